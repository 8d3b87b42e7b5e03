"""Booking, moving and unbooking, from the day sheet and the job page."""

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import book_visit, correct_times, move_visit, unbook_visit
from jobs.forms import BookForm, MoveForm, TimesForm
from jobs.forms.booking import write_seen
from jobs.models import Job, Visit
from jobs.views.answer import act, sent, undo_address
from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office


def _visit(request: StaffRequest, pk: int) -> Visit:
    visit: Visit = get_object_or_404(Visit.objects.for_user(request.user).with_job(), pk=pk)
    return visit


@office
@require_POST
def book(request: StaffRequest, number: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    form = BookForm(sent(request, "technician"))

    def do() -> None:
        visit = book_visit(job, actor=request.user, **form.placed)
        tell(
            request,
            f"Job {job.number} is booked: {_place(visit)}.",
            undo=undo_address("jobs:unbook", visit.pk, request),
        )

    return act(request, job, "book", form, do)


@office
@require_POST
def move(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = _visit(request, visit_id)
    form = MoveForm(sent(request, "technician"))

    def do() -> None:
        seen = form.cleaned_data["seen"]
        moved = move_visit(visit, actor=request.user, seen=seen, **form.placed)
        left_at = write_seen(moved.technician_id, moved.starts_at, moved.ends_at)
        back = undo_address("jobs:move", visit.pk, request, **_fields(visit), seen=left_at)
        tell(request, f"Job {visit.job.number} is moved: {_place(moved)}.", undo=back)

    return act(request, visit.job, "move", form, do)


@office
@require_POST
def unbook(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = _visit(request, visit_id)

    def do() -> None:
        job = unbook_visit(visit, actor=request.user)
        back = undo_address("jobs:book", job.number, request, **_fields(visit))
        tell(request, f"Job {job.number} waits again.", undo=back)

    return act(request, visit.job, "unbook", PlainForm(sent(request, "form_key")), do)


@office
@require_http_methods(["GET", "HEAD", "POST"])
def times(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = _visit(request, visit_id)
    names = ("set_off_at", "arrived_at", "finished_at")
    form = TimesForm(request.POST or None, initial={name: getattr(visit, name) for name in names})
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            correct_times(visit, actor=request.user, **form.cleaned_data)
            tell(request, "The times are corrected.")
            return reverse("jobs:show", args=[visit.job.number])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/times.html", {"visit": visit, "job": visit.job, "form": form})


def _fields(visit: Visit) -> dict[str, Any]:
    """Where a visit was, as the fields of the form that puts it there again."""
    minutes = round((visit.ends_at - visit.starts_at) / timedelta(minutes=1))
    return {"technician": visit.technician_id, "start": visit.starts_at.isoformat(), "minutes": minutes}


def _place(visit: Visit) -> str:
    start, end = timezone.localtime(visit.starts_at), timezone.localtime(visit.ends_at)
    day = "" if start.date() == timezone.localdate() else f"{start:%a} {start.day} {start:%b} "
    return f"{visit.technician.name}, {day}{start:%H:%M} to {end:%H:%M}"
