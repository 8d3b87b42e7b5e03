"""Running a procedure on the phone: chosen by the vehicle and its variant, marked step by step, ended with words."""

from typing import Any
from uuid import uuid4

from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions.running import begin_run, end_run, mark_step
from jobs.forms.running import EndForm, MarkForm
from jobs.models import Light, ProcedureRun, Visit
from jobs.running.choosing import load_choice
from jobs.running.measuring import read_measured
from jobs.running.progress import StepState, load_progress
from jobs.views.own import on_own_visit
from shop.errors import Refused
from shop.http import render_form, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest
from vehicles.actions import set_family
from vehicles.models import ProcedureVersion, Variant
from vehicles.procedure_content import Doubt
from vehicles.states import StepKind

# A phone that empties its queue is answered in words for its script, not with a page.
FROM_QUEUE = "X-Queue"


@on_own_visit
@require_safe
def procedure(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The run that is open, or the choice of a procedure: the variant is asked first."""
    running = ProcedureRun.objects.running().of_visit(visit).first()
    if running:
        return see(request, _run_address(running))
    is_asked = request.GET.get("variant")
    choice = load_choice(visit, is_unknown=is_asked == "unknown", is_asked_again=is_asked == "again")
    return render(request, "jobs/running/choose.html", {"visit": visit, "job": visit.job, "choice": choice})


@on_own_visit
@require_POST
def procedure_variant(request: StaffRequest, visit: Visit, variant_id: int) -> HttpResponse:
    """Somebody looked at the sign: this variant it is."""
    vehicle = visit.job.vehicle
    page = reverse("jobs:procedure", args=[visit.pk])
    variant = get_object_or_404(Variant.objects.select_related("family"), pk=variant_id)
    if vehicle is None or vehicle.family_id != variant.family_id:
        tell_refused(request, "That variant belongs to another family.")
        return see(request, page)

    def do() -> str:
        set_family(vehicle, actor=request.user, family=variant.family, variant=variant)
        return page

    return see(request, once(request, do))


@on_own_visit
@require_POST
def begin_procedure(request: StaffRequest, visit: Visit, version_id: int) -> HttpResponse:
    version = get_object_or_404(ProcedureVersion, pk=version_id)
    variant = visit.job.vehicle.variant if visit.job.vehicle else None

    def do() -> str:
        return _run_address(begin_run(visit, actor=request.user, version=version, variant=variant))

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, f"{reverse('jobs:procedure', args=[visit.pk])}?variant=unknown")


@on_own_visit
@never_cache
@require_safe
def run(request: StaffRequest, visit: Visit, run_id: int) -> HttpResponse:
    """All steps of a run, so that they work on without signal; one is shown."""
    return _draw_run(request, visit, _own_run(visit, run_id))


@on_own_visit
@require_POST
def mark(request: StaffRequest, visit: Visit, run_id: int) -> HttpResponse:
    """Takes in a mark on a step; a phone's queue is told in words what is wrong, a plain form on its page."""
    here = _own_run(visit, run_id)
    form = MarkForm(request.POST)
    try:
        _take_in(request, here, form)
    except Refused as refused:
        form.refuse(refused)
    is_queued = FROM_QUEUE in request.headers
    if not form.errors:
        return JsonResponse({}) if is_queued else see(request, _run_address(here))
    words = next(str(error) for errors in form.errors.values() for error in errors)
    if is_queued:
        return JsonResponse({"words": words}, status=422)
    return _draw_run(request, visit, here, refused=words, status=422)


def _take_in(request: StaffRequest, here: ProcedureRun, form: MarkForm) -> None:
    if not form.is_valid():
        return
    facts = dict(form.cleaned_data)
    for name in ("ago", "step"):
        facts.pop(name)
    state = load_progress(here).of_step(form.cleaned_data["step"])
    if state is None:
        raise Refused("This step belongs to another procedure.")
    facts["measured"] = _measured(state, facts)
    mark_step(here, actor=request.user, step=state.step, at=timezone.now() - form.age, **facts)


def _measured(state: StepState, facts: dict[str, Any]) -> Any:
    if state.step.kind != StepKind.MEASURE or facts["is_begin"]:
        return None
    try:
        return read_measured(facts["measured"], state.limits)
    except Doubt as doubt:
        raise Refused(str(doubt), field="measured") from None


@on_own_visit
@require_http_methods(["GET", "HEAD", "POST"])
def end(request: StaffRequest, visit: Visit, run_id: int) -> HttpResponse:
    """The end: worked or not, why, which variant it was, the keys, the lights."""
    here = _own_run(visit, run_id)
    form = EndForm(request.POST or None, family=here.version.procedure.family, initial={"variant": here.variant_id})
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            end_run(here, actor=request.user, **form.cleaned_data)
            tell(request, "Kept with the job, and for the next one who meets this vehicle.")
            return reverse("jobs:visit", args=[visit.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    context = {"visit": visit, "job": visit.job, "run": here, "form": form}
    return render_form(request, "jobs/running/end.html", context)


def _own_run(visit: Visit, run_id: int) -> ProcedureRun:
    found: ProcedureRun = get_object_or_404(ProcedureRun.objects.of_visit(visit).with_version(), pk=run_id)
    return found


def _run_address(here: ProcedureRun) -> str:
    return reverse("jobs:run", args=[here.visit_id, here.pk])


def _draw_run(
    request: StaffRequest, visit: Visit, here: ProcedureRun, *, refused: str = "", status: int = 200
) -> HttpResponse:
    stands = load_progress(here)
    context = {
        "visit": visit,
        "job": visit.job,
        "run": here,
        "stands": stands,
        "shown": _asked_again(request, stands.states) or stands.current,
        "refused": refused,
        "typed": request.POST,
        "lights": Light.choices,
        "client_id": uuid4(),
        "now": timezone.now(),
    }
    return render(request, "jobs/running/run.html", context, status=status)


def _asked_again(request: StaffRequest, states: tuple[StepState, ...]) -> StepState | None:
    """The measure that is to be taken again: named in the address, or in the form that was refused."""
    asked = request.POST.get("step") or request.GET.get("step", "")
    return next((each for each in states if str(each.step.pk) == asked and each.step.kind == StepKind.MEASURE), None)
