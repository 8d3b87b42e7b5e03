"""Papers made in the background, and what the night learns of times. Doing any of these twice does it once."""

import logging
import time
from collections.abc import Callable, Iterator

from celery import shared_task
from django.utils import timezone

from billing.actions import papers
from billing.actions.waiting import MAKE_INVOICE_PAPER, MAKE_RECEIPT
from billing.models import Invoice, Payment
from billing.prices import usual_minutes
from jobs.actions import store_estimates
from jobs.estimates import is_due
from shop.middleware import shop_zone

AT_ONCE = 200
SLICE_SECONDS = 2.0

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

    The newest first, because somebody waits for it. Many are made slice by slice, so that a paper asked for meanwhile
    is not kept waiting behind them.
    """
    until, made = time.monotonic() + SLICE_SECONDS, 0
    for make, row in _waiting():
        if time.monotonic() > until:
            break
        made += _is_made(make, row)
    else:
        return
    if made:
        make_waiting_papers.delay()


def _waiting() -> Iterator[tuple[Callable[[int], object], int]]:
    for row in Invoice.objects.without_paper().order_by("-id").values_list("id", flat=True)[:AT_ONCE]:
        yield papers.make_paper, row
    for row in Payment.objects.without_receipt().order_by("-id").values_list("id", flat=True)[:AT_ONCE]:
        yield papers.make_receipt, row


def _is_made(make: Callable[[int], object], row: int) -> bool:
    try:
        make(row)
    except Exception:
        # One paper that cannot be made must not hold up the others; it is tried again in a minute.
        log.exception("A paper could not be made: %s", row)
        return False
    return True


@shared_task(name="billing.learn_times")
def learn_times() -> None:
    """Learns times on site anew, once in a night; called often, so that a night missed is caught up.

    It stands on this floor, since what is not learned yet is taken from the price book.
    """
    now = timezone.now()
    with timezone.override(shop_zone()):
        if is_due(now):
            store_estimates(usual=usual_minutes(), at=now)
