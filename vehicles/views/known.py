"""What the shop knows, as soon as the vehicle is known; and somebody saying which family it is."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from shop.errors import Refused
from shop.http import is_htmx, safe_next, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, everyone
from vehicles.actions import set_family
from vehicles.know_forms import ChooseFamilyForm
from vehicles.models import Vehicle
from vehicles.reads_know import Known, known_of_facts, known_of_vehicle

LONGEST_TYPED = 60
# Served by a floor above when there is one: what came of work on this family.
HISTORY = "jobs:family_history"


@everyone
@require_safe
def known(request: StaffRequest) -> HttpResponse:
    """The family of `vehicle`, or of `make`, `model`, `year` and `vin` as far as they are told; for work of `kind`
    (`kind_of_work` on a call page)."""
    told = _known(request)
    context = {"known": told, "history": _history(told), "next": _back(request)}
    return render(request, "vehicles/know/known.html" if is_htmx(request) else "vehicles/know/known_page.html", context)


def _known(request: HttpRequest) -> Known:
    kind = _typed(request, "kind") or _typed(request, "kind_of_work")
    pk = _typed(request, "vehicle")
    if pk.isascii() and pk.isdecimal() and len(pk) < 10:
        vehicle = get_object_or_404(Vehicle.objects.select_related("variant"), pk=int(pk))
        return known_of_vehicle(vehicle, kind)
    year = _typed(request, "year")
    is_year = year.isascii() and year.isdecimal() and len(year) == 4
    return known_of_facts(
        kind,
        make=_typed(request, "make"),
        model=_typed(request, "model"),
        year=int(year) if is_year else None,
        vin=_typed(request, "vin"),
    )


def _history(told: Known) -> str:
    """The address of what came of such work, or nothing."""
    if told.family is None:
        return ""
    asked = {
        "family": told.family.pk,
        "variant": told.variant.pk if told.variant else "",
        "vehicle": told.vehicle.pk if told.vehicle else "",
        "kind": told.kind,
    }
    try:
        return f"{reverse(HISTORY)}?{urlencode({name: value for name, value in asked.items() if value})}"
    except NoReverseMatch:
        return ""


@everyone
@require_POST
def choose_family(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    """Somebody looked: this is the vehicle's family, and perhaps its variant."""
    vehicle = get_object_or_404(Vehicle, pk=vehicle_id)
    form = ChooseFamilyForm(request.POST)
    back = safe_next(request, f"{reverse('vehicles:known')}?vehicle={vehicle.pk}")
    if not form.is_valid():
        tell_refused(request, "Choose a family that the shop still has.")
        return see(request, back)

    def do() -> str:
        chosen = set_family(vehicle, actor=request.user, **form.cleaned_data)
        tell(request, f"Kept: {chosen.family}." if chosen.family else "The family is open again.")
        return back

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, back)


def _back(request: HttpRequest) -> str:
    """The page that holds this part, so that a choice leads back to it."""
    return request.GET.get("next", "")[:300] or ("" if is_htmx(request) else request.get_full_path())


def _typed(request: HttpRequest, name: str) -> str:
    return request.GET.get(name, "").replace("\0", "").strip()[:LONGEST_TYPED]
