"""Forms of stock, one for each action."""
