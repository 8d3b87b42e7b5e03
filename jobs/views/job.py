"""A job's desk page: what was promised, what was done, what is missing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions import change_job
from jobs.forms import JobFactsForm
from jobs.models import Job
from jobs.ticket import load_ticket
from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office


def draw_job(
    request: StaffRequest, job: Job, *, forms: dict[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    """The page of a job; `forms` are refused ones, kept as they were sent."""
    return render(request, "jobs/job.html", {"ticket": load_ticket(job, forms=forms)}, status=status)


@office
@require_safe
def show(request: StaffRequest, number: int) -> HttpResponse:
    return draw_job(request, get_object_or_404(Job.objects.for_user(request.user), number=number))


@office
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: StaffRequest, number: int) -> HttpResponse:
    jobs = Job.objects.for_user(request.user).select_related("customer", "vehicle")
    job = get_object_or_404(jobs, number=number)
    form = JobFactsForm(request.POST or None, job=job)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            change_job(job, actor=request.user, **form.facts)
            tell(request, f"Job {job.number} is changed.")
            return reverse("jobs:show", args=[job.number])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/change.html", {"job": job, "form": form})
