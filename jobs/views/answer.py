"""What a page of the office sends back after an action: the sheet or the job page that it was sent from."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse, QueryDict
from django.urls import reverse

from jobs.models import Job
from jobs.views.job import draw_job
from jobs.views.sheet import draw_sheet, read_day, read_number, sheet_url
from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import is_htmx, see, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest


def sent(request: StaffRequest, name: str) -> QueryDict:
    """The fields of a form; those of an Undo button stand in its address."""
    return request.POST if name in request.POST else request.GET


def act(request: StaffRequest, job: Job, name: str, form: PlainForm, do: Callable[[], None]) -> HttpResponse:
    """Does a thing once if its form is in order, and answers with the page that it was sent from.

    A refusal is shown in that page's form called `name`; of a drag or a bare button, which have none, in a toast.
    """

    def do_and_point() -> str:
        do()
        return _next(request, job)

    if form.is_valid():
        try:
            url = once(request, do_and_point)
        except Refused as refused:
            form.refuse(refused)
        else:
            return _draw(request, job, {}) if is_htmx(request) and _day(request) else see(request, url)
    if "by_hand" in request.POST or not form.fields:
        tell_refused(request, _first_words(form))
        return _draw(request, job, {}, status=422)
    return _draw(request, job, {name: form}, status=422)


def undo_address(name: str, pk: int, request: StaffRequest, **fields: Any) -> str:
    """An address that takes something back when it is posted to."""
    where = {"day": day.isoformat()} if (day := _day(request)) else {}
    return f"{reverse(name, args=[pk])}?{urlencode({**fields, **where})}"


def _draw(request: StaffRequest, job: Job, forms: dict[str, PlainForm], status: int = 200) -> HttpResponse:
    day = _day(request)
    if day is None:
        return draw_job(request, job, forms=forms, status=status)
    return draw_sheet(request, day, _chosen(request, job, forms), forms=forms, status=status)


def _chosen(request: StaffRequest, job: Job, forms: dict[str, PlainForm]) -> int | None:
    """What is dragged by hand does not change which job is chosen."""
    if "by_hand" in request.POST and not forms:
        return read_number(request.POST.get("job"))
    return job.number


def _day(request: StaffRequest) -> Any:
    return read_day(request.POST.get("day") or request.GET.get("day"))


def _next(request: StaffRequest, job: Job) -> str:
    day = _day(request)
    return sheet_url(day, job.number) if day else reverse("jobs:show", args=[job.number])


def _first_words(form: PlainForm) -> str:
    return next((str(error) for errors in form.errors.values() for error in errors), "That was not done.")
