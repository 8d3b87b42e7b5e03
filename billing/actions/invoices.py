"""Invoices: drawn up from what was told and used, changed while drafts, issued once, then never changed."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from billing.actions.waiting import ask_for_invoice_paper
from billing.errors import AlreadyIssued, NotYet, TotalMoved
from billing.lines import BillLine, line_of, lines_told, not_charged, parts_beyond
from billing.models import Invoice, InvoiceLine, InvoiceState, InvoiceTax, Quotation
from billing.papers.parties import parties_of
from billing.prices import point_of, propose_lines
from billing.pricing import PricingError, Totals
from billing.taxes import NO_TAX, add_up, check_kept, shop_day, tax_day
from jobs.actions.base import lock_job
from jobs.models import Job, PartUse
from shop.actions import next_number
from shop.errors import Refused
from shop.models import Shop
from shop.money import format_amount
from shop.staff.models import Person


@transaction.atomic
def draft_invoice(job: Job, *, actor: Person | None, at: datetime | None = None) -> Invoice:
    """The invoice of a job: its lines come from the price told and the parts used. Doing it again changes nothing new.

    The price told is the latest accepted, else the latest told; with none, what the price book proposes. Charged
    parts that those lines do not cover (see `lines.parts_beyond`) are added. A comeback is not charged unless a price
    was accepted for it: its lines are taken off again by a discount. Called again on a draft it adds charged parts
    used since and drops the lines of parts taken back; an issued invoice is returned as it is.

    Raises NotYet while the job is still open.
    """
    locked = lock_job(job)
    invoice: Invoice | None = Invoice.objects.select_for_update().filter(job=locked).first()
    if invoice:
        return invoice if invoice.state == InvoiceState.ISSUED else _catch_up(invoice, locked)
    if locked.is_open:
        raise NotYet(f"Job {locked.number} is still {locked.get_state_display().lower()}; finish it first.")
    told: Quotation | None = Quotation.objects.standing_of(locked)
    invoice = Invoice.objects.create(
        job=locked,
        customer=locked.customer,
        currency=Shop.current().currency,
        price_told=told.total if told else None,
        purchase_order=locked.purchase_order,
        drafted_at=at or timezone.now(),
    )
    _keep_lines(invoice, _first_lines(locked, told))
    return invoice


@transaction.atomic
def change_draft(
    invoice: Invoice, *, actor: Person | None, lines: Sequence[BillLine], note: str = "", purchase_order: str = ""
) -> Invoice:
    """Puts these lines in place of the draft's. Raises Refused when the total falls below what is already paid."""
    locked = lock_draft(invoice)
    if not lines:
        raise Refused("An invoice needs at least one line.")
    locked.note, locked.purchase_order = note.strip(), purchase_order.strip()
    locked.save(update_fields=["note", "purchase_order"])
    _keep_lines(locked, lines)
    return locked


@transaction.atomic
def redraft_invoice(invoice: Invoice, *, actor: Person | None) -> Invoice:
    """Draws a draft up again from the price told and the parts used; what was changed by hand is lost."""
    locked = lock_draft(invoice)
    if locked.job is None:
        raise Refused("This invoice belongs to no job.")
    told: Quotation | None = Quotation.objects.standing_of(locked.job)
    locked.price_told = told.total if told else None
    locked.save(update_fields=["price_told"])
    _keep_lines(locked, _first_lines(locked.job, told))
    return locked


@transaction.atomic
def issue_invoice(
    invoice: Invoice, *, actor: Person | None, at: datetime | None = None, seen: Decimal | None = None
) -> Invoice:
    """Issues a draft: the rates of its tax day, the next number of the year, who and what copied onto it, and frozen.

    The number's row stays locked until the transaction ends, so numbers have no gaps. `seen` is the total that whoever
    issues it was shown. Raises AlreadyIssued, TotalMoved when it comes to another total than `seen`, or NotYet for an
    open job or a draft without lines.
    """
    locked = lock_draft(invoice)
    moment = at or timezone.now()
    if locked.job and locked.job.is_open:
        raise NotYet(f"Job {locked.job.number} is not finished yet.")
    lines = _lines_of(locked)
    if not lines:
        raise NotYet("There is nothing on this invoice yet.")
    _keep_lines(locked, lines, at=moment)
    if seen is not None and seen != locked.total:
        now, then = (format_amount(each, locked.currency) for each in (locked.total, seen))
        raise TotalMoved(f"It comes to {now} now, not {then}. Nothing was issued; look at it again.")
    locked.state, locked.issued_at, locked.issued_by = InvoiceState.ISSUED, moment, actor
    locked.due_on = shop_day(moment) + timedelta(days=terms_days(locked))
    locked.year = shop_day(moment).year
    locked.parties = parties_of(locked)
    locked.sequence = next_number(f"invoice-{locked.year}")
    locked.save(
        update_fields=["state", "issued_at", "issued_by", "due_on", "year", "parties", "sequence"],
    )
    ask_for_invoice_paper(locked)
    return locked


def lock_draft(invoice: Invoice) -> Invoice:
    """The same invoice, fresh and locked. Raises AlreadyIssued."""
    locked: Invoice = (
        Invoice.objects.select_for_update(of=("self",)).select_related("customer", "job").get(pk=invoice.pk)
    )
    if locked.state == InvoiceState.ISSUED:
        raise AlreadyIssued(f"Invoice {locked.number} is issued and does not change.")
    return locked


def terms_days(invoice: Invoice) -> int:
    """Days to pay: the customer's own terms, else the shop's."""
    return invoice.customer.terms_days or Shop.current().payment_terms_days


def charged_parts(job: Job) -> list[PartUse]:
    """Parts used on a job that the customer pays for, in the order in which they were used."""
    return list(PartUse.objects.standing().filter(job=job, is_charged=True).select_related("item").order_by("id"))


def parts_not_on(invoice: Invoice) -> list[BillLine]:
    """Charged parts of the job that the invoice's lines do not cover."""
    return parts_beyond(_lines_of(invoice), charged_parts(invoice.job)) if invoice.job else []


def totals_now(invoice: Invoice) -> Totals:
    """What a draft comes to if it were issued now; rates may have changed since it was kept. Writes nothing.

    Raises PricingError for lines that cannot be priced.
    """
    return _add_up(invoice, _lines_of(invoice), None)


def tax_rows(invoice: Invoice, totals: Totals) -> list[InvoiceTax]:
    """The taxes of these totals as rows of the invoice, not kept yet."""
    return [
        InvoiceTax(invoice=invoice, name=tax.name, percent=tax.rate, base=tax.base, amount=tax.amount)
        for tax in totals.tax_lines
        if tax.name != NO_TAX
    ]


def _first_lines(job: Job, told: Quotation | None) -> list[BillLine]:
    lines = lines_told(told.lines.select_related("item")) if told else _lines_by_book(job)
    lines += parts_beyond(lines, charged_parts(job))
    return lines + _taken_off_comeback(job, told, lines)


def _taken_off_comeback(job: Job, told: Quotation | None, lines: list[BillLine]) -> list[BillLine]:
    """Discounts that take these lines off again, when the job is a comeback without a price accepted for it."""
    if job.comeback_of is None or (told and told.accepted_at):
        return []
    words = f"Comeback of job {job.comeback_of.number}, not charged"
    return not_charged(lines, words=words, currency=Shop.current().currency)


def _lines_by_book(job: Job) -> list[BillLine]:
    return [BillLine(line) for line in propose_lines(job.kind_of_work, at=job.called_at, point=point_of(job))]


def _catch_up(invoice: Invoice, job: Job) -> Invoice:
    kept = list(invoice.lines.select_related("item", "part"))
    standing = [line_of(line) for line in kept if not (line.part and line.part.taken_back_id)]
    added = parts_beyond(standing, charged_parts(job))
    added += _taken_off_comeback(job, Quotation.objects.standing_of(job), added)
    if added or len(standing) < len(kept):
        _keep_lines(invoice, standing + added)
    return invoice


def _lines_of(invoice: Invoice) -> list[BillLine]:
    return [line_of(line) for line in invoice.lines.select_related("item", "part")]


def _keep_lines(invoice: Invoice, lines: Iterable[BillLine], *, at: datetime | None = None) -> None:
    """Writes lines, taxes and totals of a draft, at the rates of its tax day."""
    lines = list(lines)
    totals = _add_up(invoice, lines, at)
    _check_total(invoice, totals)
    invoice.lines.all().delete()
    invoice.taxes.all().delete()
    InvoiceLine.objects.bulk_create(
        InvoiceLine(invoice=invoice, position=position, amount=priced.amount, **_columns(line))
        for position, (line, priced) in enumerate(zip(lines, totals.lines, strict=True), start=1)
    )
    InvoiceTax.objects.bulk_create(tax_rows(invoice, totals))
    invoice.net, invoice.tax, invoice.total = totals.net, totals.tax, totals.gross
    invoice.save(update_fields=["net", "tax", "total"])


def _add_up(invoice: Invoice, lines: Iterable[BillLine], at: datetime | None) -> Totals:
    return add_up((line.price for line in lines), on=tax_day(invoice.job, at or timezone.now()))


def _check_total(invoice: Invoice, totals: Totals) -> None:
    check_kept(totals)
    if totals.gross < 0:
        raise PricingError("The discounts take off more than the lines come to.")
    if totals.gross < invoice.paid:
        paid = format_amount(invoice.paid, invoice.currency)
        raise Refused(f"{paid} is paid already; the total cannot be {format_amount(totals.gross, invoice.currency)}.")


def _columns(line: BillLine) -> dict[str, Any]:
    price = line.price
    return {
        "kind": price.kind,
        "text": price.text,
        "reason": price.reason,
        "quantity": price.quantity,
        "unit_price": price.unit_price,
        "tax_class": price.tax_class,
        "item": line.item,
        "part": line.part,
    }
