"""Pages of stock."""
