"""Ending a job without its work, taking that back, and notes."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST

from jobs.actions import add_note, close_job, reopen_job
from jobs.forms import CloseForm, NoteForm
from jobs.models import Job
from jobs.views.answer import act, sent, undo_address
from shop.forms import PlainForm
from shop.http import tell
from shop.staff.access import StaffRequest, office


@office
@require_POST
def close(request: StaffRequest, number: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    form = CloseForm(request.POST)

    def do() -> None:
        closed = close_job(job, actor=request.user, **form.cleaned_data)
        words = f"Job {job.number}: {closed.get_state_display().lower()}."
        tell(request, words, undo=undo_address("jobs:reopen", job.number, request))

    return act(request, job, "close", form, do)


@office
@require_POST
def reopen(request: StaffRequest, number: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)

    def do() -> None:
        reopen_job(job, actor=request.user)
        tell(request, f"Job {job.number} waits again.")

    return act(request, job, "reopen", PlainForm(sent(request, "form_key")), do)


@office
@require_POST
def note(request: StaffRequest, number: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    form = NoteForm(request.POST)

    def do() -> None:
        add_note(job, actor=request.user, **form.cleaned_data)
        tell(request, f"The note is kept with job {job.number}.")

    return act(request, job, "note", form, do)
