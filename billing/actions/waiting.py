"""Asking the worker for papers. Rows in the database are the truth: an unheard ask is found by the minute's sweep."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

from billing.models import Invoice, Payment

log = logging.getLogger(__name__)

MAKE_INVOICE_PAPER = "billing.make_invoice_paper"
MAKE_RECEIPT = "billing.make_receipt"

_is_left_to_sweep: ContextVar[bool] = ContextVar("is_left_to_sweep", default=False)


@contextmanager
def left_to_sweep() -> Iterator[None]:
    """Queues nothing meanwhile: the minute's sweep makes the papers. For writing hundreds of invoices at once."""
    token = _is_left_to_sweep.set(True)
    try:
        yield
    finally:
        _is_left_to_sweep.reset(token)


def ask_for_invoice_paper(invoice: Invoice) -> None:
    """Queues the PDF of an invoice once the transaction stands."""
    _ask_on_commit(MAKE_INVOICE_PAPER, invoice.pk)


def ask_for_receipt(payment: Payment) -> None:
    """Queues the receipt of a payment once the transaction stands."""
    _ask_on_commit(MAKE_RECEIPT, payment.pk)


def _ask_on_commit(task: str, row: int) -> None:
    if _is_left_to_sweep.get():
        return

    def ask() -> None:
        try:
            current_app.send_task(task, args=[row])
        except OperationalError as error:
            # What is committed stays committed when the broker is down; the sweep finds the row within a minute.
            log.warning("The queue does not answer (%s); %s %s waits for the sweep.", error, task, row)

    transaction.on_commit(ask, robust=True)
