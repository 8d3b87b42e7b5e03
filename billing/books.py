"""Whether the books hold: invoices against lines, payments and papers, numbers without gaps, margins against jobs."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from django.db.models import Count, F, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from billing.earnings import cuts_by_kind, cuts_by_month, margin_of, with_margin
from billing.margin import sum_margins
from billing.models import Invoice, InvoiceLine, InvoiceTax, Payment, PaymentPart
from jobs.models import Job


def faults(*, with_papers: bool = True) -> Iterator[str]:
    """Everything that does not add up, in words; nothing when the books hold."""
    yield from _sums()
    yield from _numbers()
    yield from _margins()
    if with_papers:
        yield from _papers()


def _sums() -> Iterator[str]:
    lines = _added(InvoiceLine.objects.all())
    taxes = _added(InvoiceTax.objects.all())
    parts = _added(PaymentPart.objects.all())
    added = Invoice.objects.annotate(lines_sum=lines, taxes_sum=taxes, parts_sum=parts)
    wrong = added.exclude(net=F("lines_sum"), tax=F("taxes_sum"), total=F("net") + F("tax"), paid=F("parts_sum"))
    for invoice in wrong:
        yield (
            f"{invoice}: net {invoice.net} of lines {invoice.lines_sum}, tax {invoice.tax} of {invoice.taxes_sum}, "
            f"total {invoice.total}, paid {invoice.paid} of {invoice.parts_sum}."
        )
    for payment in Payment.objects.annotate(shared=Coalesce(Sum("parts__amount"), 0 * F("amount"))):
        if payment.shared != payment.amount:
            yield f"{payment}: {payment.shared} of it went to invoices."


def _added(rows: "QuerySet[InvoiceLine] | QuerySet[InvoiceTax] | QuerySet[PaymentPart]") -> Coalesce:
    own = rows.filter(invoice=OuterRef("pk")).order_by().values("invoice").annotate(added=Sum("amount"))
    return Coalesce(Subquery(own.values("added")), 0 * F("net"))


def _numbers() -> Iterator[str]:
    years = Invoice.objects.issued().order_by().values("year")
    for row in years.annotate(count=Count("pk"), first=Min("sequence"), last=Max("sequence")):
        if (row["first"], row["last"]) != (1, row["count"]):
            yield f"Invoices of {row['year']}: {row['count']} from {row['first']} to {row['last']}."
    payments = Payment.objects.aggregate(count=Count("pk"), last=Max("number"))
    if payments["last"] not in {None, payments["count"]}:
        yield f"Payments: {payments['count']}, the last number is {payments['last']}."


def _margins() -> Iterator[str]:
    counted = Job.objects.filter(Q(finished_at__isnull=False) | Q(invoice__issued_at__isnull=False))
    jobs = with_margin(counted)
    whole = sum_margins(margin_of(job) for job in jobs)
    for name, cuts in (("kinds of work", cuts_by_kind(jobs)), ("months", cuts_by_month(jobs))):
        if (added := sum_margins(cut.margin for cut in cuts)) != whole:
            yield f"Margins: the {name} leave {added.left}, the jobs {whole.left}."


def _papers() -> Iterator[str]:
    invoices = Invoice.objects.exclude(paper="").values_list("paper", "paper_sha256")
    receipts = Payment.objects.exclude(receipt="").values_list("receipt", "receipt_sha256")
    for name, sha256 in invoices.union(receipts):
        path = Path(Invoice._meta.get_field("paper").storage.path(name))
        if not path.exists():
            yield f"{name} is missing; it is made again when it is asked for."
        elif hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
            yield f"{name} is not the file that was made."
