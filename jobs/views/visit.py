"""One visit on the phone, and its steps."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import arrive, set_off, turn_back
from jobs.errors import WrongState
from jobs.estimates import estimate_for
from jobs.forms.steps import StepForm
from jobs.models import Visit
from jobs.round import load_visit_page
from jobs.states import VisitState
from jobs.views.own import on_own_visit
from shop.errors import Refused
from shop.http import see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest
from vehicles.estimates import Estimate


@on_own_visit
@require_safe
def visit_page(request: StaffRequest, visit: Visit) -> HttpResponse:
    page = load_visit_page(visit, request.user)
    return render(request, "jobs/round/visit.html", {"page": page, "estimate": _estimate(visit)})


def _estimate(visit: Visit) -> Estimate | None:
    """How long such work takes this technician, while it is still to do."""
    job = visit.job
    if not job.is_open:
        return None
    return estimate_for(job.kind_of_work, vehicle=job.vehicle, technician_id=visit.technician_id)


@on_own_visit
@require_POST
def step_set_off(request: StaffRequest, visit: Visit) -> HttpResponse:
    return _step(request, visit, set_off, VisitState.ON_THE_WAY, "You set off.")


@on_own_visit
@require_POST
def step_arrive(request: StaffRequest, visit: Visit) -> HttpResponse:
    return _step(request, visit, arrive, VisitState.ON_SITE, "You are on site.")


@on_own_visit
@require_POST
def step_turn_back(request: StaffRequest, visit: Visit) -> HttpResponse:
    page = reverse("jobs:visit", args=[visit.pk])

    def do() -> str:
        turn_back(visit, actor=request.user)
        tell(request, "Turned back. The visit is booked again.")
        return page

    return _told(request, do, page)


def _step(request: StaffRequest, visit: Visit, act: Callable[..., Visit], to: VisitState, words: str) -> HttpResponse:
    page = reverse("jobs:visit", args=[visit.pk])
    form = StepForm(request.POST)
    seen = form.cleaned_data["seen_start"] if form.is_valid() else None

    def do() -> str:
        act(visit, actor=request.user, seen_start=seen)
        tell(request, words, undo=reverse("jobs:turn_back", args=[visit.pk]) if to == VisitState.ON_THE_WAY else "")
        return page

    return _told(request, do, page, unless=to)


def _told(request: StaffRequest, do: Callable[[], str], page: str, unless: VisitState | None = None) -> HttpResponse:
    """Does a step and shows the visit; a refusal is told there in words, beside how things now stand.

    A second page left open that taps the same step again is told that it is done, not that it was refused.
    """
    try:
        return see(request, once(request, do))
    except WrongState as refused:
        visit_id = request.resolver_match.kwargs["visit_id"] if request.resolver_match else 0
        if unless and Visit.objects.own(request.user).filter(pk=visit_id, state=unless).exists():
            tell(request, "That was done already.")
        else:
            tell_refused(request, str(refused))
    except Refused as refused:
        tell_refused(request, str(refused))
    return see(request, page)
