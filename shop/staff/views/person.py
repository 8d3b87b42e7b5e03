"""One person: facts, week, days off, password, on or off. Each part is a form of its own on one page."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.core import signing
from django.core.exceptions import SuspiciousOperation
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import see, tell, tell_refused
from shop.once import answered, once
from shop.staff import actions
from shop.staff.access import StaffRequest, owner
from shop.staff.forms import DayOffForm, PasswordForm, PersonForm, WeekForm
from shop.staff.models import DayOff, Person

UNDO_SALT = "shop.staff.days_off"
UNDO_SECONDS = 15 * 60


@owner
@require_http_methods(["GET", "POST"])
def person(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    if request.method != "POST":
        return _page(request, someone)
    form = PersonForm(request.POST)

    def do() -> str:
        actions.change_person(someone, actor=request.user, **form.cleaned_data)
        tell(request, f"Changes to {form.cleaned_data['name']} are kept.")
        return _address(someone)

    return _done_or_page(request, someone, form, do, "form")


@owner
@require_POST
def set_week(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    form = WeekForm(request.POST)

    def do() -> str:
        actions.set_week(someone, actor=request.user, shifts=form.shifts)
        tell(request, f"{someone.first_name}'s week is kept.")
        return _address(someone)

    return _done_or_page(request, someone, form, do, "week")


@owner
@require_POST
def add_day_off(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    form = DayOffForm(request.POST)

    def do() -> str:
        days = actions.add_day_off(someone, actor=request.user, **form.cleaned_data)
        tell(request, "1 day off is kept." if len(days) == 1 else f"{len(days)} days off are kept.")
        return _address(someone)

    return _done_or_page(request, someone, form, do, "day_off")


@owner
@require_POST
def remove_day_off(request: StaffRequest, pk: int) -> HttpResponse:
    if before := answered(request):
        return see(request, before)
    day_off = get_object_or_404(DayOff.objects.select_related("person"), pk=pk)

    def do() -> str:
        actions.remove_day_off(day_off, actor=request.user)
        kept = signing.dumps([day_off.person_id, day_off.on.isoformat(), day_off.reason], salt=UNDO_SALT)
        tell(request, "The day off is taken back.", undo=reverse("staff:put_back_day_off", args=[kept]))
        return _address(day_off.person)

    return see(request, once(request, do))


@owner
@require_POST
def put_back_day_off(request: StaffRequest, kept: str) -> HttpResponse:
    try:
        pk, on, reason = signing.loads(kept, salt=UNDO_SALT, max_age=UNDO_SECONDS)
    except signing.BadSignature:
        raise SuspiciousOperation("That can no longer be taken back.") from None
    someone = get_object_or_404(Person, pk=pk)

    def do() -> str:
        actions.add_day_off(someone, actor=request.user, on=date.fromisoformat(on), reason=reason)
        tell(request, "The day off is back.")
        return _address(someone)

    return see(request, once(request, do))


@owner
@sensitive_post_parameters("password")
@require_POST
def set_password(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    form = PasswordForm(request.POST, person=someone)
    if someone == request.user:
        tell_refused(request, "Your own password is changed on its own page.")
        return see(request, reverse("staff:my_password"))

    def do() -> str:
        actions.set_password(someone, actor=request.user, password=form.cleaned_data["password"])
        tell(request, f"{someone.first_name} has a new password and is signed out everywhere.")
        return _address(someone)

    return _done_or_page(request, someone, form, do, "password")


@owner
@require_POST
def switch_off(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)

    def do() -> str:
        actions.switch_off(someone, actor=request.user)
        undo = reverse("staff:switch_on", args=[someone.pk])
        tell(request, f"{someone.first_name} can no longer sign in.", undo=undo)
        return _address(someone)

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, _address(someone))


@owner
@require_POST
def switch_on(request: StaffRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)

    def do() -> str:
        actions.switch_on(someone, actor=request.user)
        tell(request, f"{someone.first_name} may sign in again.")
        return _address(someone)

    return see(request, once(request, do))


def _address(someone: Person) -> str:
    return reverse("staff:person", args=[someone.pk])


def _done_or_page(
    request: StaffRequest, someone: Person, form: PlainForm, do: Callable[[], str], name: str
) -> HttpResponse:
    if form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return _page(request, someone, status=422, **{name: form})


def _page(request: StaffRequest, someone: Person, *, status: int = 200, **typed: PlainForm) -> HttpResponse:
    context: dict[str, Any] = {
        "person": someone,
        "form": PersonForm(initial=PersonForm.facts_of(someone)),
        "week": WeekForm(initial=WeekForm.facts_of(someone)),
        "day_off": DayOffForm(),
        "password": PasswordForm(person=someone, prefix=None),
        "days_off": someone.days_off.filter(on__gte=timezone.localdate()).order_by("on"),
        **typed,
    }
    return render(request, "staff/person.html", context, status=status)
