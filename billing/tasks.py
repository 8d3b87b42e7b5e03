"""Papers made in the background. Doing any of these twice makes one paper."""

import logging
from itertools import chain

from celery import shared_task

from billing.actions import papers
from billing.actions.waiting import MAKE_INVOICE_PAPER, MAKE_RECEIPT
from billing.models import Invoice, Payment

# Enough to catch up after a night without worker, few enough to stay well under the queue's visibility timeout.
AT_ONCE = 100

log = logging.getLogger(__name__)


@shared_task(name=MAKE_INVOICE_PAPER)
def make_invoice_paper(invoice_id: int) -> None:
    """Makes the PDF of one issued invoice."""
    papers.make_paper(invoice_id)


@shared_task(name=MAKE_RECEIPT)
def make_receipt(payment_id: int) -> None:
    """Makes the PDF of one receipt."""
    papers.make_receipt(payment_id)


@shared_task(name="billing.make_waiting_papers")
def make_waiting_papers() -> None:
    """Makes the papers whose ask was never heard: broker down, worker killed, files lost from the queue.

    The newest first: somebody may be waiting for those.
    """
    invoices = Invoice.objects.without_paper().order_by("-id").values_list("id", flat=True)[:AT_ONCE]
    payments = Payment.objects.without_receipt().order_by("-id").values_list("id", flat=True)[:AT_ONCE]
    for make, row in chain(((papers.make_paper, i) for i in invoices), ((papers.make_receipt, p) for p in payments)):
        try:
            make(row)
        except Exception:
            # One paper that cannot be made must not hold up the others; it is tried again in a minute.
            log.exception("A paper could not be made: %s %s", make.__name__, row)
