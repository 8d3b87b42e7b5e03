"""The key of a job as the desk sees it: counts and words, its cuts only for a reason; the owner's leave; kept keys."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions import give_leave
from jobs.actions.key_base import open_kept
from jobs.actions.key_final import advise
from jobs.forms.keys import LeaveForm
from jobs.models import Job, KeyStage, KeyWork
from jobs.views.guarded import permit_or_ask
from shop.errors import Refused
from shop.guarded import Permit
from shop.http import is_htmx, render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office, owner
from vehicles.cards import cutting_card
from vehicles.models import Vehicle

OPENED = ("jobs.keywork.bitting", "jobs.keywork.code", "jobs.keywork.trials")
VEHICLE_JOBS_SHOWN = 8


@office
@never_cache
@require_safe
def key_panel(request: StaffRequest, number: int) -> HttpResponse:
    """How far the key is. Nothing sealed is shown here."""
    job = _job(request, number)
    frame = "jobs/key/bare.html" if is_htmx(request) else "jobs/key/desk_page.html"
    context = {"job": job, "work": _work(job), "is_owner": request.user.is_owner, "frame": frame}
    return render(request, "jobs/key/desk.html", context)


@office
@never_cache
@require_http_methods(["GET", "POST"])
def key_open(request: StaffRequest, number: int) -> HttpResponse:
    """The code, the cuts and the candidates, once the reason is written down."""
    job = _job(request, number)
    work = _work(job)
    leave = permit_or_ask(request, job, OPENED, what="the code and the cuts of this job's key")
    if isinstance(leave, HttpResponse):
        return leave
    return render(request, "jobs/key/opened.html", {"job": job, "work": work, **(_opened(work, leave) if work else {})})


def _opened(work: KeyWork, permit: Permit) -> dict[str, Any]:
    system = work.key_system.system if work.key_system else None
    shown: dict[str, Any] = {"sheet": work.key_system, "code": work.code.open(permit) if work.code is not None else ""}
    if system and work.bitting is not None:
        shown["card"] = cutting_card(system, tuple(work.bitting.open(permit)))
    kept = open_kept(work, permit)
    if kept and work.stage == KeyStage.TRYING:
        shown["left"] = kept.state.remaining[:60]
        shown["advice"] = advise(kept.state, leave=work.leave_by_id is not None, trial=work.trial_item)
    return shown


@owner
@never_cache
@require_http_methods(["GET", "POST"])
def key_leave(request: StaffRequest, number: int) -> HttpResponse:
    """The owner allows to cut the expensive blank while several candidates are left."""
    job = _job(request, number)
    form = LeaveForm(request.POST or None)

    def do() -> str:
        give_leave(job, actor=request.user, reason=form.cleaned_data["reason"])
        tell(request, "The technician may cut the customer's blank now.")
        return reverse("jobs:show", args=[job.number])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/key/leave.html", {"job": job, "work": _work(job), "form": form})


@office
@require_safe
def vehicle_panel(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    """The jobs of a vehicle, and which of them keep a key for a duplicate, as a piece of its page."""
    vehicle = get_object_or_404(Vehicle.objects.select_related("customer"), pk=vehicle_id)
    jobs = Job.objects.for_user(request.user).filter(vehicle=vehicle).order_by("-number")
    kept = KeyWork.objects.kept_of_vehicle(vehicle)[:VEHICLE_JOBS_SHOWN]
    context = {"vehicle": vehicle, "jobs": jobs[:VEHICLE_JOBS_SHOWN], "kept": kept}
    return render(request, "jobs/key/vehicle_panel.html", context)


def _job(request: StaffRequest, number: int) -> Job:
    jobs = Job.objects.for_user(request.user).select_related("vehicle", "customer")
    job: Job = get_object_or_404(jobs, number=number)
    return job


def _work(job: Job) -> KeyWork | None:
    works = KeyWork.objects.select_related("key_system", "trial_item", "final_item", "leave_by", "made_by")
    work: KeyWork | None = works.filter(job=job).first()
    return work
