"""What billing keeps by the money rule, tells of a customer, erases, and knows of prices for an inspection."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone

from billing.actions.keeping import empty_invoices, empty_payments, forget_who_accepted
from billing.models import Invoice, InvoiceState, Payment, Quotation
from billing.taxes import shop_day
from jobs.models import Erasure, Job, KeepingTimes
from jobs.record_rules import Fact
from jobs.retention.holds import jobs_under_hold
from shop.customers.models import Customer
from shop.keeping.days import begins, years_after, years_before
from shop.keeping.rooms import Duty, KeptFile, Room, Spared, Step
from shop.money import format_amount


def _oldest(day: date) -> Any:
    return begins(years_before(day, KeepingTimes.current().money_years))


def _invoices(day: date) -> Any:
    """Paid invoices older than the money years that still name somebody."""
    due = Invoice.objects.issued().filter(issued_at__lt=_oldest(day)).exclude(parties__has_key="erased_on")
    return due.exclude(pk__in=Invoice.objects.unpaid().values("pk")).exclude(job__in=jobs_under_hold(day))


def _duties(customer: Customer, on: date) -> list[Duty]:
    """An invoice not paid keeps the customer, every other invoice and payment keeps itself so many years."""
    years, oldest = KeepingTimes.current().money_years, _oldest(on)
    unpaid = Invoice.objects.unpaid().filter(customer=customer)
    found = [
        Duty(
            f"Invoice {invoice.number} is not paid: {format_amount(invoice.balance, invoice.currency)} open.",
            keeps_all=True,
        )
        for invoice in unpaid.newest_first()
    ]
    kept = Invoice.objects.issued().filter(customer=customer, issued_at__gte=oldest).exclude(pk__in=unpaid.values("pk"))
    for invoice in kept.newest_first():
        until = years_after(shop_day(invoice.issued_at), years)
        found.append(Duty(f"Invoice {invoice.number} is kept {_years(years)} by the money rule.", until))
    for payment in Payment.objects.filter(customer=customer, received_at__gte=oldest).order_by("number"):
        until = years_after(shop_day(payment.received_at), years)
        found.append(Duty(f"Receipt {payment.number} is kept {_years(years)} by the money rule.", until))
    return found


def _years(number: int) -> str:
    return f"{number} year{'' if number == 1 else 's'}"


def _data(customer: Customer) -> dict[str, Any]:
    facts = ("currency", "net", "tax", "total", "paid", "price_told", "purchase_order", "note", "issued_at", "due_on")
    money = ("number", "method", "amount", "currency", "reference", "received_at")
    prices = ("job__number", "total", "currency", "told_at", "accepted_at", "accepted_by")
    return {
        "prices_told": list(Quotation.objects.filter(job__customer=customer).values(*prices)),
        "invoices": [
            {
                "number": invoice.number,
                **{name: getattr(invoice, name) for name in facts},
                "lines": list(invoice.lines.values("text", "quantity", "unit_price", "amount")),
            }
            for invoice in Invoice.objects.filter(customer=customer).prefetch_related("lines").order_by("pk")
        ],
        "payments": list(Payment.objects.filter(customer=customer).values(*money)),
    }


def _files(customer: Customer) -> Iterator[KeptFile]:
    for invoice in Invoice.objects.filter(customer=customer).exclude(paper="").order_by("pk"):
        yield KeptFile(f"papers/invoice-{invoice.number}.pdf", _reader(invoice.paper))
    for payment in Payment.objects.filter(customer=customer).exclude(receipt="").order_by("pk"):
        yield KeptFile(f"papers/receipt-{payment.number}.pdf", _reader(payment.receipt))


def _reader(file: Any) -> Callable[[], bytes]:
    def read() -> bytes:
        with file.open("rb") as kept:
            return bytes(kept.read())

    return read


def _erase(customer: Customer, on: date, spared: Spared) -> list[str]:
    """What the money rule does not keep any more. A draft of an invoice is no money record yet."""
    mine = Invoice.objects.filter(customer=customer).exclude(job__in=spared.jobs)
    mine.filter(state=InvoiceState.DRAFT).update(note="", purchase_order="", parties={})
    jobs = Job.objects.filter(customer=customer).exclude(pk__in=spared.jobs)
    said_yes = forget_who_accepted(Quotation.objects.filter(job__in=jobs))
    papers = empty_invoices(_invoices(on).filter(pk__in=mine.values("pk")), on=on)
    old = Payment.objects.filter(customer=customer, received_at__lt=_oldest(on))
    old = old.exclude(parts__invoice__in=mine.issued().filter(issued_at__gte=_oldest(on)).values("pk"))
    receipts = empty_payments(old.filter(~Q(reference="") | Q(receipt_made_at__lt=_asked_at(customer))))
    counted = ((papers, "invoice"), (receipts, "receipt"), (said_yes, "price told"))
    return [f"Names on {count} {what}{'' if count == 1 else 's'}" for count, what in counted if count]


def _asked_at(customer: Customer) -> datetime:
    """When erasing began: receipts made since name nobody."""
    asked = Erasure.objects.filter(customer=customer).order_by("-pk").values_list("asked_at", flat=True).first()
    return asked or timezone.now()


def _facts(jobs: Sequence[int]) -> dict[int, dict[str, str]]:
    """Price told and price paid of each job, for rules that want them shown."""
    found: dict[int, dict[str, str]] = {}
    told = Quotation.objects.filter(job__in=jobs, accepted_at__isnull=False).order_by("accepted_at", "pk")
    for quotation in told:
        found.setdefault(quotation.job_id, {})[Fact.PRICE_TOLD] = format_amount(quotation.total, quotation.currency)
    for invoice in Invoice.objects.issued().filter(job__in=jobs):
        words = format_amount(invoice.paid, invoice.currency)
        found.setdefault(invoice.job_id, {})[Fact.PRICE_PAID] = words if invoice.paid else ""
    return found


ROOM = Room(
    steps=(
        Step(
            "invoices",
            "Names on invoices past the money years",
            lambda day: _invoices(day).count(),
            lambda day: empty_invoices(_invoices(day), on=day),
        ),
    ),
    duties=_duties,
    data=_data,
    files=_files,
    erase=_erase,
    facts=_facts,
)
