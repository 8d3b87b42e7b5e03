"""The list of invoices: what is to be invoiced, to be paid, paid."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count, F, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from billing.models import Invoice, InvoiceState
from billing.querysets import InvoiceQuerySet
from jobs.models import Job
from shop.http import typed
from shop.staff.access import StaffRequest, office

ROWS = 50
TO_INVOICE, DRAFTS, UNPAID, OVERDUE, PAID, ALL = "to_invoice", "drafts", "unpaid", "overdue", "paid", "all"


@dataclass(frozen=True)
class Tab:
    """One way of looking at the list, and how many rows it has."""

    name: str
    words: str
    count: int


@office
@require_safe
def invoices(request: StaffRequest) -> HttpResponse:
    shown = request.GET.get("show", UNPAID)
    text = typed(request)
    today = timezone.localdate()
    tabs = _tabs(today)
    if shown not in {tab.name for tab in tabs} or (text and "show" not in request.GET):
        shown = ALL if text else UNPAID
    context: dict[str, Any] = {"tabs": tabs, "shown": shown, "text": text, "today": today}
    rows: QuerySet[Any]
    if shown == TO_INVOICE:
        rows = _to_invoice(text)
    else:
        found = _shown(shown, today)
        found = found.matching(text) if text else found
        context["sums"] = found.sums()
        rows = _in_order(found, shown).with_parties()
    context["page"] = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    return render(request, "billing/invoices.html", context)


def _tabs(today: date) -> list[Tab]:
    open_balance = Q(state=InvoiceState.ISSUED, paid__lt=F("total"))
    counts = Invoice.objects.aggregate(
        drafts=Count("pk", filter=Q(state=InvoiceState.DRAFT)),
        unpaid=Count("pk", filter=open_balance),
        overdue=Count("pk", filter=open_balance & Q(due_on__lt=today)),
        paid=Count("pk", filter=Q(state=InvoiceState.ISSUED, paid=F("total"))),
        all=Count("pk"),
    )
    return [
        Tab(TO_INVOICE, "To invoice", _to_invoice("").count()),
        Tab(DRAFTS, "Drafts", counts["drafts"]),
        Tab(UNPAID, "Unpaid", counts["unpaid"]),
        Tab(OVERDUE, "Overdue", counts["overdue"]),
        Tab(PAID, "Paid", counts["paid"]),
        Tab(ALL, "All", counts["all"]),
    ]


def _to_invoice(text: str) -> "QuerySet[Job]":
    """Finished jobs without an issued invoice, the oldest first."""
    jobs: QuerySet[Job] = Job.objects.finished().filter(~Q(invoice__state=InvoiceState.ISSUED))
    if text:
        found = Q(customer__name__icontains=text) | Q(vehicle__plate__istartswith=text)
        jobs = jobs.filter(found | Q(number=text) if text.isdecimal() and len(text) < 10 else found)
    return jobs.select_related("customer", "vehicle", "invoice").order_by("finished_at", "pk")


def _shown(shown: str, today: date) -> InvoiceQuerySet:
    every: InvoiceQuerySet = Invoice.objects.all()
    if shown == OVERDUE:
        return every.overdue(today)
    return {DRAFTS: every.drafts, UNPAID: every.unpaid, PAID: every.paid_up}.get(shown, every.all)()


def _in_order(found: InvoiceQuerySet, shown: str) -> InvoiceQuerySet:
    """What is owed longest stands first; everything else newest first."""
    return found.order_by("due_on", "pk") if shown in {UNPAID, OVERDUE} else found.newest_first()
