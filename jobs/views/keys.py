"""The key of a job on the phone: one page, which shows the next step."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import choose_system, open_guarded, use_earlier_key
from jobs.actions.key_base import KINDS, REASON, open_kept
from jobs.authority import key_data_verdict
from jobs.key_run.page import TrialsPage, load_trials
from jobs.models import KeyStage, KeyWork, Visit
from jobs.states import JobState
from jobs.views.own import OwnView, on_own_visit
from shop.errors import Refused
from shop.guarded import Permit
from shop.http import is_htmx, see, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, View
from vehicles.drawing import draw_key, sample_bitting
from vehicles.models import KeySystemSheet


def key_page(view: OwnView) -> View:
    """A page of an own visit with key data on it: kept by no cache, and nothing but advice before the check."""

    @on_own_visit
    @cache_control(no_store=True, private=True)
    @wraps(view)
    def with_leave(request: StaffRequest, visit: Visit, *args: object, **kwargs: object) -> HttpResponse:
        verdict = key_data_verdict(visit.job, request.user)
        if verdict.is_so and visit.job.state == JobState.ON_SITE:
            return view(request, visit, *args, **kwargs)
        made = KeyWork.objects.of(visit.job)
        if made and made.stage == KeyStage.MADE:
            return render(request, "jobs/key/made.html", frame(visit, made))
        words = "" if verdict.is_so else verdict.words
        return render(request, "jobs/key/wait.html", {"visit": visit, "job": visit.job, "words": words})

    return with_leave


def key_address(visit: Visit) -> str:
    return reverse("jobs:key", args=[visit.pk])


def frame(visit: Visit, work: KeyWork | None) -> dict[str, Any]:
    """What every page of key work needs."""
    return {"visit": visit, "job": visit.job, "work": work, "sheet": work.key_system if work else None}


def act_on_key(request: StaffRequest, visit: Visit, do: Callable[[], object]) -> HttpResponse:
    """Does a step of a bare button once and shows the next; a refusal is told there."""

    def and_back() -> str:
        do()
        return key_address(visit)

    try:
        return see(request, once(request, and_back))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, key_address(visit))


@transaction.atomic
def open_for_work(request: StaffRequest, visit: Visit) -> Permit:
    """Leave to show this job's key data to its technician; the opening is written down."""
    return open_guarded(visit.job, actor=request.user, kinds=KINDS, reason=REASON)


def trials_page(request: StaffRequest, visit: Visit, work: KeyWork) -> TrialsPage | None:
    """The trials as the page shows them, opened for it; None before there are any."""
    if work.trials is None:
        return None
    permit = open_for_work(request, visit)
    kept = open_kept(work, permit)
    known = work.known.open(permit) if work.known is not None else None
    return load_trials(work, kept, known) if kept else None


@key_page
@require_safe
def key(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The next step of the key."""
    work = KeyWork.objects.of(visit.job)
    if work is None or work.key_system is None:
        return _systems(request, visit, work)
    plan = getattr(work, "plan", None)
    if plan and plan.is_under_way:
        template = "jobs/key/planning.html#progress" if is_htmx(request) else "jobs/key/planning.html"
        return render(request, template, {**frame(visit, work), "plan": plan})
    if is_htmx(request):
        return see(request, key_address(visit))
    if work.stage == KeyStage.MADE:
        return render(request, "jobs/key/made.html", frame(visit, work))
    page = trials_page(request, visit, work)
    if page is None:
        return _ways(request, visit, work, plan.words if plan else "")
    if work.stage == KeyStage.FOUND:
        from_state = {"found": page.last}
        return render(request, "jobs/key/found.html", {**frame(visit, work), "page": page, **from_state})
    template = "jobs/key/trial.html" if work.trial_item else "jobs/key/plan.html"
    return render(request, template, {**frame(visit, work), "page": page})


def _systems(request: HttpRequest, visit: Visit, work: KeyWork | None) -> HttpResponse:
    vehicle = visit.job.vehicle
    make = vehicle.make.casefold() if vehicle else ""
    sheets = list(KeySystemSheet.objects.in_use().in_order())
    # The vehicle's make first, as far as the name of the system or its notes tell it.
    sheets.sort(key=lambda sheet: not (make and make in f"{sheet.name} {sheet.notes}".casefold()))
    shown = [
        (
            sheet,
            draw_key(
                sheet.system,
                sample_bitting(sheet.system) or [None] * sheet.system.cuts,
                with_ladder=False,
                with_locks=False,
            ),
        )
        for sheet in sheets
    ]
    return render(request, "jobs/key/system.html", {**frame(visit, work), "sheets": shown})


def _ways(request: HttpRequest, visit: Visit, work: KeyWork, words: str) -> HttpResponse:
    earlier = KeyWork.objects.kept_of_vehicle(visit.job.vehicle).exclude(job=visit.job)[:3] if visit.job.vehicle else []
    return render(request, "jobs/key/ways.html", {**frame(visit, work), "earlier": earlier, "words": words})


@key_page
@require_safe
def key_systems(request: StaffRequest, visit: Visit) -> HttpResponse:
    """Another key system than the one chosen."""
    return _systems(request, visit, KeyWork.objects.of(visit.job))


@key_page
@require_safe
def key_ways(request: StaffRequest, visit: Visit) -> HttpResponse:
    """Back to what is known, also in the middle of the trials."""
    work = get_object_or_404(KeyWork.objects.select_related("key_system"), job=visit.job, key_system__isnull=False)
    return _ways(request, visit, work, "")


@key_page
@require_POST
def key_system(request: StaffRequest, visit: Visit, pk: int) -> HttpResponse:
    sheet = get_object_or_404(KeySystemSheet.objects.in_use(), pk=pk)
    return act_on_key(
        request, visit, lambda: choose_system(visit.job, actor=request.user, key_system=sheet, visit=visit)
    )


@key_page
@require_POST
def key_earlier(request: StaffRequest, visit: Visit, pk: int) -> HttpResponse:
    earlier = get_object_or_404(KeyWork.objects.kept_of_vehicle(visit.job.vehicle), pk=pk)
    return act_on_key(
        request, visit, lambda: use_earlier_key(visit.job, actor=request.user, earlier=earlier, visit=visit)
    )
