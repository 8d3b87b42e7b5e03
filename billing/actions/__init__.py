"""Every write on prices, quotations, invoices and payments."""

from billing.actions.quotations import accept_price, tell_price

__all__ = [
    "accept_price",
    "tell_price",
]
