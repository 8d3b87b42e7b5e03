"""An authority asks to see records: what it may see, for the owner, and the clock of its request."""

import csv
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions.inspections import answer_request, open_for_request, still_open, write_request
from jobs.authority import current_rule
from jobs.clock import Clock, clock
from jobs.errors import ReasonNeeded
from jobs.forms.inspection import AnsweredForm, AskedForm, RequestForm
from jobs.inspection import MOST_ROWS, Asked, Table, draw_table, jobs_asked
from jobs.models import InspectionRequest
from shop.errors import Refused
from shop.http import render_form, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, owner

ANSWERED = 20
# A cell that begins so is a formula to a spreadsheet.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


@owner
@require_safe
def inspection(request: StaffRequest) -> HttpResponse:
    """Requests with their clocks, and a look at what would be shown."""
    form = AskedForm(request.GET or None)
    table = None
    if request.GET and form.is_valid():
        table = draw_table(jobs_asked(form.asked())[:MOST_ROWS])
    context = {
        "form": form,
        "table": table,
        "query": request.GET.urlencode(),
        "rule": current_rule(),
        "pending": with_clocks(InspectionRequest.objects.pending()),
        "answered": InspectionRequest.objects.answered().select_related("job", "answered_by")[:ANSWERED],
        "most": MOST_ROWS,
    }
    return render(request, "jobs/keeping/inspection.html", context, status=422 if form.errors else 200)


@owner
@require_http_methods(["GET", "POST"])
def add_request(request: StaffRequest) -> HttpResponse:
    given = {name: value for name, value in request.GET.items() if name in AskedForm.base_fields}
    form = RequestForm(request.POST or None, initial={"received_on": timezone.localdate(), **given})
    if request.method == "POST" and form.is_valid():
        facts, asked = form.cleaned_data, form.asked()

        def do() -> str:
            made = write_request(
                actor=request.user,
                authority=facts["authority"],
                received_on=facts["received_on"],
                way=facts["way"],
                since=asked.since,
                until=asked.until,
                thing=asked.thing,
                only_keys=asked.only_keys,
                job=facts.get("number"),
            )
            tell(request, f"Request written down. {_clock(made).words}.")
            return reverse("jobs:inspection_request", args=[made.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/keeping/add_request.html", {"form": form, "rule": current_rule()})


@owner
@never_cache
@require_http_methods(["GET", "POST"])
def show_request(request: StaffRequest, request_id: int) -> HttpResponse:
    """The records of a request; POST marks it answered."""
    asked = _request(request_id)
    form = AnsweredForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            answer_request(asked, actor=request.user, **form.cleaned_data)
            tell(request, "Answered. The clock stands.")
            return reverse("jobs:inspection")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    context = {"asked": asked, "clock": _clock(asked), "table": _table(request, asked), "form": form}
    return render_form(request, "jobs/keeping/request.html", context)


@owner
@require_POST
def open_records(request: StaffRequest, request_id: int) -> HttpResponse:
    """Opens what is sealed and wanted: one opening per record, the request as its reason."""
    asked = _request(request_id)
    back = reverse("jobs:inspection_request", args=[asked.pk])

    def do() -> str:
        rows = draw_table(jobs_asked(Asked.by(asked))[:MOST_ROWS]).rows
        count = len(open_for_request(asked, rows, actor=request.user))
        tell(request, f"{count} {'record' if count == 1 else 'records'} opened and written down, for half an hour.")
        return back

    try:
        return see(request, once(request, do))
    except (Refused, ReasonNeeded) as refused:
        tell_refused(request, str(refused))
        return see(request, back)


@owner
@never_cache
@require_safe
def sheet(request: StaffRequest, request_id: int) -> HttpResponse:
    """The bundle to print: one sheet per record."""
    asked = _request(request_id)
    table = _table(request, asked)
    if table.is_sealed:
        return _shut(request, asked)
    return render(request, "jobs/keeping/sheet.html", {"asked": asked, "table": table, "today": timezone.localdate()})


@owner
@never_cache
@require_safe
def as_csv(request: StaffRequest, request_id: int) -> HttpResponse:
    """The records with the fields that their rules want and no others; the job's number in front."""
    asked = _request(request_id)
    table = _table(request, asked)
    if table.is_sealed:
        return _shut(request, asked)
    name = f"records-{asked.received_on:%Y-%m-%d}-{asked.pk}.csv"
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    # The mark by which spreadsheets know UTF-8.
    answer.write("\ufeff")
    writer = csv.writer(answer)
    writer.writerow(["Job", *table.heads])
    for row, cells in table.lines():
        writer.writerow([row.job.number, *(_plain(cell.words) for cell in cells)])
    return answer


def _request(request_id: int) -> InspectionRequest:
    found = InspectionRequest.objects.select_related("rule", "job", "answered_by", "written_by")
    asked: InspectionRequest = get_object_or_404(found, pk=request_id)
    return asked


def _table(request: StaffRequest, asked: InspectionRequest) -> Table:
    jobs = list(jobs_asked(Asked.by(asked))[:MOST_ROWS])
    shut = draw_table(jobs)
    permits = still_open(shut.rows, actor=request.user)
    return draw_table(jobs, permits) if permits else shut


def _shut(request: StaffRequest, asked: InspectionRequest) -> HttpResponse:
    tell_refused(request, "Open the records first. Each opening is written down.")
    return redirect("jobs:inspection_request", request_id=asked.pk)


def with_clocks(requests: Any) -> list[tuple[InspectionRequest, Clock]]:
    return [(asked, _clock(asked)) for asked in requests.select_related("rule", "job")]


def _clock(asked: InspectionRequest) -> Clock:
    in_business_days = asked.rule.rule.in_business_days
    return clock(asked.answer_by, today=timezone.localdate(), in_business_days=in_business_days)


def _plain(words: str) -> str:
    """A telephone number begins with a plus and is no formula; anything else that begins like one is quoted."""
    if words.startswith(FORMULA) and not words[1:].replace(" ", "").isdigit():
        return f"'{words}"
    return words
