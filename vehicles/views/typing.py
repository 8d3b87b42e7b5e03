"""What is answered while somebody types: who is calling, what a VIN says."""

from collections.abc import Iterable

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from shop.http import typed
from shop.staff.access import StaffRequest, everyone, office
from shop.staff.roles import Role
from vehicles.callers import find_callers
from vehicles.models import Vehicle
from vehicles.vin import VinReading, read_vin

LONGEST_TYPED = 60
_NEVER_IN_A_VIN = "IOQ"


@office
@require_safe
def caller(request: StaffRequest) -> HttpResponse:
    """Customers known by the number, name, plate or VIN in `q`; see the template for what each line carries."""
    text = typed(request, most=LONGEST_TYPED)
    return render(request, "vehicles/callers.html", {"callers": find_callers(text), "text": text})


@everyone
@require_safe
def read_typed_vin(request: StaffRequest) -> HttpResponse:
    """What the VIN being typed says; `vin`, or any field whose name ends so, holds it."""
    text = next((typed(request, name, most=LONGEST_TYPED) for name in request.GET if name.endswith("vin")), "")
    reading = read_vin(text, today=timezone.localdate())
    context = {"reading": reading, "characters": _characters(reading), "known": _known(request, reading)}
    return render(request, "vehicles/read_vin.html", context)


def _known(request: StaffRequest, reading: VinReading) -> Iterable[Vehicle]:
    """Vehicles with this VIN already, for those who may see whose they are."""
    if not reading.is_well_formed or not request.user.roles & {Role.OFFICE, Role.OWNER}:
        return ()
    found: Iterable[Vehicle] = Vehicle.objects.with_vin(reading.vin).select_related("customer")[:3]
    return found


def _characters(reading: VinReading) -> list[tuple[str, bool]]:
    """Each character, and whether it can stand in a VIN."""
    return [(char, _is_legal(char)) for char in reading.vin]


def _is_legal(char: str) -> bool:
    return char.isascii() and char.isalnum() and char not in _NEVER_IN_A_VIN
