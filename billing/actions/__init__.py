"""Every write on prices, quotations, invoices and payments."""

from billing.actions.invoices import change_draft, draft_invoice, issue_invoice, redraft_invoice
from billing.actions.papers import make_paper, make_receipt
from billing.actions.payments import record_payment
from billing.actions.quotations import accept_price, tell_price

__all__ = [
    "accept_price",
    "change_draft",
    "draft_invoice",
    "issue_invoice",
    "make_paper",
    "make_receipt",
    "record_payment",
    "redraft_invoice",
    "tell_price",
]
