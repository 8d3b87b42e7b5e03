"""One form for each action."""
