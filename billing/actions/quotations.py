"""Prices told to customers, and their yes."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from billing.errors import NothingToTell, PriceSettled
from billing.models import Invoice, InvoiceState, Quotation, QuotationLine
from billing.pricing import PricedLine, PriceLine, Totals
from billing.taxes import add_up, check_kept, shop_day
from jobs.models import Job
from jobs.states import CLOSED_UNDONE
from shop.money import format_amount
from shop.staff.models import Person


@transaction.atomic
def tell_price(
    job: Job,
    *,
    actor: Person | None,
    lines: Sequence[PriceLine],
    accepted_by: str = "",
    at: datetime | None = None,
) -> Quotation:
    """Keeps a price told for a job, accepted at once when `accepted_by` names who said yes; earlier prices stay.

    Raises NothingToTell without lines or below nothing, PriceSettled when the job is closed or invoiced.
    """
    locked = _lock_to_price(job)
    moment = at or timezone.now()
    told = add_up(lines, on=shop_day(moment))
    _check_worth_telling(told)
    quotation = Quotation.objects.create(
        job=locked,
        currency=told.currency,
        net=told.net,
        tax=told.tax,
        total=told.gross,
        told_at=moment,
        told_by=actor,
        accepted_at=moment if accepted_by.strip() else None,
        accepted_by=accepted_by.strip(),
    )
    QuotationLine.objects.bulk_create(
        _line_row(quotation, position, priced) for position, priced in enumerate(told.lines, start=1)
    )
    _tell_draft(locked)
    return quotation


@transaction.atomic
def accept_price(
    quotation: Quotation, *, actor: Person | None, accepted_by: str, at: datetime | None = None
) -> Quotation:
    """Records who said yes to a price told.

    Raises NothingToTell without a name, PriceSettled when it was accepted before or a newer price was told.
    """
    if not accepted_by.strip():
        raise NothingToTell("Say who accepted the price.", field="accepted_by")
    _lock_to_price(quotation.job)
    newest: Quotation = Quotation.objects.newest_of(quotation.job)
    if newest.pk != quotation.pk:
        shown = format_amount(newest.total, newest.currency)
        raise PriceSettled(f"A newer price of {shown} was told since. Look at it again.")
    if newest.accepted_at:
        raise PriceSettled(f"{newest.accepted_by} has already accepted this price.")
    newest.accepted_by = accepted_by.strip()
    newest.accepted_at = at or timezone.now()
    newest.save(update_fields=["accepted_by", "accepted_at"])
    _tell_draft(newest.job)
    return newest


def _tell_draft(job: Job) -> None:
    """A draft shows the price that stands beside its own total; its lines change only when it is drawn up again."""
    standing: Quotation = Quotation.objects.standing_of(job)
    Invoice.objects.filter(job=job, state=InvoiceState.DRAFT).update(price_told=standing.total)


def _lock_to_price(job: Job) -> Job:
    """The job locked, so that prices and the invoice of one job follow one another."""
    locked: Job = Job.objects.select_for_update(of=("self",)).get(pk=job.pk)
    if locked.state in CLOSED_UNDONE:
        raise PriceSettled(f"Job {locked.number} is {locked.get_state_display().lower()}. Reopen it first.")
    if Invoice.objects.filter(job=locked, state=InvoiceState.ISSUED).exists():
        raise PriceSettled(f"Job {locked.number} is already invoiced.")
    return locked


def _check_worth_telling(told: Totals) -> None:
    if not told.lines:
        raise NothingToTell("A price needs at least one line.", field="lines")
    check_kept(told)
    if told.gross < 0:
        shown = format_amount(told.gross, told.currency)
        raise NothingToTell(f"Together this is {shown}. A price is not below nothing.", field="lines")


def _line_row(quotation: Quotation, position: int, priced: PricedLine) -> QuotationLine:
    line = priced.line
    return QuotationLine(
        quotation=quotation,
        position=position,
        kind=line.kind,
        text=line.text,
        reason=line.reason[:200],
        quantity=line.quantity,
        unit_price=line.unit_price,
        amount=priced.amount,
        tax_class=line.tax_class,
        item_id=getattr(line, "item_id", None),
    )
