"""What the nights did, what falls due, holds, and the shop's own times; for the owner."""

from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.holds import add_hold, lift_hold, set_times
from jobs.actions.nights import FROM_HOUR, failed, falling_due, told
from jobs.forms.keeping import HoldForm, LiftForm, TimesForm
from jobs.models import Erasure, Hold, InspectionRequest, KeepingRun, KeepingTimes
from jobs.views.inspection import with_clocks
from shop.customers.models import Customer
from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.keeping.decisions import read_decisions
from shop.once import once
from shop.staff.access import StaffRequest, owner

NIGHTS = 14
AHEAD_DAYS = 30
LIFTED = 20


@owner
@require_http_methods(["GET", "POST"])
def keeping(request: StaffRequest) -> HttpResponse:
    times = KeepingTimes.current()
    given = {"money_years": times.money_years, "photo_years": times.photo_years}
    form = TimesForm(request.POST or None, initial=given)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            set_times(actor=request.user, **form.cleaned_data)
            tell(request, "Times kept. They hold from the next night on.")
            return reverse("jobs:keeping")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/keeping/keeping.html", {"form": form, **_state()})


def _state() -> dict[str, Any]:
    today = timezone.localdate()
    standing = Hold.objects.standing(today).with_facts()
    runs = [(run, told(run), failed(run)) for run in KeepingRun.objects.all()[:NIGHTS]]
    return {
        "runs": runs,
        "due": falling_due(today + timedelta(days=AHEAD_DAYS)),
        "until": today + timedelta(days=AHEAD_DAYS),
        "holds": standing,
        "past_holds": Hold.objects.with_facts().exclude(pk__in=standing.values("pk"))[:LIFTED],
        "erasures": Erasure.objects.filter(done_at__isnull=True).select_related("customer", "asked_by"),
        "from_hour": FROM_HOUR,
    }


@owner
@never_cache
@require_safe
def owner_notes(request: StaffRequest) -> HttpResponse:
    """Requests that wait and what the last night did, as a piece of the owner's first page."""
    run = KeepingRun.objects.filter(night__gte=timezone.localdate() - timedelta(days=1)).first()
    context = {
        "pending": with_clocks(InspectionRequest.objects.pending()),
        "run": run,
        "done": told(run) if run else [],
        "failures": failed(run) if run else [],
    }
    return render(request, "jobs/keeping/notes.html", context)


@owner
@require_safe
def decisions(request: HttpRequest) -> HttpResponse:
    """What is kept how long, field by field."""
    models: dict[str, list[Any]] = {}
    for decision in read_decisions():
        app, _, name = decision.model.partition(".")
        if app not in {"auth", "contenttypes", "sessions"}:
            models.setdefault(name, []).append(decision)
    return render(request, "jobs/keeping/decisions.html", {"models": models})


@owner
@require_http_methods(["GET", "POST"])
def hold(request: StaffRequest) -> HttpResponse:
    """A hold on a job, or on the customer that the address names."""
    customer = None
    if chosen := request.GET.get("customer"):
        customer = get_object_or_404(Customer, pk=chosen if chosen.isdecimal() and len(chosen) < 15 else 0)
    form = HoldForm(request.POST or None, of_customer=customer is not None, initial={"job": request.GET.get("job")})
    if request.method == "POST" and form.is_valid():
        facts = dict(form.cleaned_data)

        def do() -> str:
            made = add_hold(customer or facts.pop("job"), actor=request.user, **facts)
            tell(request, f"{made}. Nothing of it is deleted.")
            return reverse("jobs:keeping")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/keeping/hold.html", {"form": form, "customer": customer})


@owner
@require_http_methods(["GET", "POST"])
def lift(request: StaffRequest, hold_id: int) -> HttpResponse:
    standing = get_object_or_404(Hold.objects.with_facts(), pk=hold_id)
    form = LiftForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            lift_hold(standing, actor=request.user, **form.cleaned_data)
            tell(request, "Hold lifted. What is due goes the next night.")
            return reverse("jobs:keeping")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/keeping/lift.html", {"form": form, "hold": standing})
