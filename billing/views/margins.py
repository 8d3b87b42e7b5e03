"""Where the money went: a month, its kinds of work, and one job to the line. For the owner."""

from datetime import date, timedelta
from typing import Any

from django.core.paginator import Paginator
from django.db.models import F, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from billing.bar import bar_of
from billing.earnings import cuts_by_kind, cuts_by_month, jobs_between, margin_of, month_bounds, with_margin
from billing.margin import sum_margins
from billing.margin_lines import margin_lines
from jobs.models import Job
from jobs.states import KindOfWork
from shop.staff.access import StaffRequest, owner

ROWS = 100
MONTHS_BACK = 12


@owner
@require_safe
def margins(request: StaffRequest) -> HttpResponse:
    """One month in the shop's zone, all kinds of work or one; beside it the months before."""
    month = _month(request.GET.get("month", ""))
    kind = request.GET.get("kind", "") if request.GET.get("kind") in KindOfWork.values else ""
    start, end = month_bounds(month)
    jobs = jobs_between(start, end)
    kinds = cuts_by_kind(jobs)
    cuts = [cut for cut in kinds if not kind or cut.name == kind]
    whole = sum_margins(cut.margin for cut in cuts)
    context = {
        "month": month,
        "earlier": (month - timedelta(days=1)).replace(day=1),
        "later": _later(month),
        "kind": kind,
        "kind_words": KindOfWork(kind).label if kind else "",
        "kinds": [(cut, KindOfWork(cut.name).label) for cut in kinds],
        "whole": whole,
        "bar": bar_of(whole),
        "count": sum(cut.jobs for cut in cuts),
        "not_invoiced": sum(cut.not_invoiced for cut in cuts),
        "months": cuts_by_month(jobs_between(_months_before(month), end)),
        "page": Paginator(_rows(jobs, kind), ROWS).get_page(request.GET.get("page")),
    }
    return render(request, "billing/margins.html", context)


@owner
@require_safe
def margin_job(request: StaffRequest, number: int) -> HttpResponse:
    """One job: each figure with the parts, minutes and kilometres behind it."""
    jobs = with_margin(Job.objects.select_related("customer", "vehicle", "invoice"))
    job = get_object_or_404(jobs, number=number)
    margin = margin_of(job)
    context: dict[str, Any] = {
        "job": job,
        "margin": margin,
        "bar": bar_of(margin),
        "lines": margin_lines(job, margin),
    }
    return render(request, "billing/margin_job.html", context)


def _rows(jobs: "QuerySet[Job]", kind: str) -> "QuerySet[Job]":
    """Jobs of the month, the one that left least first."""
    costs = sum((F(f"margin_{name}") for name in ("spoiled", "labour", "travel", "card_fees")), F("margin_parts"))
    rows = jobs.annotate(left=F("margin_price") - costs).select_related("customer", "vehicle", "invoice")
    return (rows.filter(kind_of_work=kind) if kind else rows).order_by("left", "number")


def _month(text: str) -> date:
    """`2026-11` as the first of that month; the present one for anything else."""
    try:
        month = date.fromisoformat(f"{text}-01")
    except ValueError:
        return timezone.localdate().replace(day=1)
    return month if 2000 <= month.year < 2200 else timezone.localdate().replace(day=1)


def _later(month: date) -> date | None:
    following = (month + timedelta(days=31)).replace(day=1)
    return following if following <= timezone.localdate() else None


def _months_before(month: date) -> Any:
    months = month.year * 12 + month.month - 1 - (MONTHS_BACK - 1)
    return month_bounds(date(months // 12, months % 12 + 1, 1))[0]
