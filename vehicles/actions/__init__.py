"""Every write on vehicles, key systems and code books."""
