"""A vehicle is added or changed."""

from typing import Any

from django.db import transaction

from shop.customers.models import Customer
from shop.errors import Refused
from shop.staff.models import Person
from vehicles.finding import family_of
from vehicles.models import Variant, Vehicle, VehicleFamily
from vehicles.plates import search_form
from vehicles.vin import read_vin

FACTS = frozenset({"customer", "plate", "vin", "year", "make", "model", "colour", "notes", "created_at"})

# What a vehicle's family is found by.
TELLING = frozenset({"make", "model", "year", "vin"})


@transaction.atomic
def add_vehicle(*, actor: Person | None, customer: Customer | None = None, **facts: Any) -> Vehicle:
    """Adds a vehicle known by plate, vin, year, make, model, colour, notes.

    Raises Refused when it is known by nothing, and for a VIN that is not well formed; a VIN whose check digit fails is
    taken, since only North America asks for one.
    """
    vehicle = Vehicle(customer=customer)
    _apply(vehicle, facts)
    vehicle.family = family_of(vehicle)
    vehicle.save()
    return vehicle


@transaction.atomic
def change_vehicle(vehicle: Vehicle, *, actor: Person | None, **facts: Any) -> Vehicle:
    """Changes facts of a vehicle; `customer` hands it to another. Raises Refused as `add_vehicle` does."""
    fresh: Vehicle = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    changed = _apply(fresh, facts)
    if TELLING & facts.keys() and not fresh.family_is_confirmed:
        fresh.family, fresh.variant = family_of(fresh), None
        changed += ["family", "variant"]
    fresh.save(update_fields=changed)
    return fresh


@transaction.atomic
def set_family(
    vehicle: Vehicle, *, actor: Person | None, family: VehicleFamily | None, variant: Variant | None = None
) -> Vehicle:
    """Somebody looked: this is the vehicle's family, and its variant when given. None takes the family away again.

    Raises Refused for a variant of another family.
    """
    if variant and (family is None or variant.family_id != family.pk):
        raise Refused("That variant belongs to another family.", field="variant")
    fresh: Vehicle = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    fresh.family, fresh.variant, fresh.family_is_confirmed = family, variant, family is not None
    fresh.save(update_fields=["family", "variant", "family_is_confirmed"])
    return fresh


@transaction.atomic
def find_family(vehicle: Vehicle) -> Vehicle:
    """Sets the family of a vehicle when it is beyond doubt and nobody has said another."""
    fresh: Vehicle = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    if not fresh.family_is_confirmed:
        fresh.family, fresh.variant = family_of(fresh), None
        fresh.save(update_fields=["family", "variant"])
    return fresh


def _apply(vehicle: Vehicle, facts: dict[str, Any]) -> list[str]:
    unknown = facts.keys() - FACTS
    if unknown:
        raise TypeError(f"A vehicle has no {', '.join(sorted(unknown))}.")
    fields = dict(facts)
    if fields.get("vin"):
        fields["vin"] = _well_formed(fields["vin"])
    if "plate" in fields:
        fields["plate"] = " ".join(fields["plate"].upper().split())
        fields["plate_search"] = search_form(fields["plate"])[:16]
    for name, value in fields.items():
        setattr(vehicle, name, value)
    if not (vehicle.plate or vehicle.vin or vehicle.make or vehicle.model):
        raise Refused("Give the plate, the VIN, or at least the make.", field="plate")
    return list(fields)


def _well_formed(vin: str) -> str:
    reading = read_vin(vin)
    if not reading.is_well_formed:
        raise Refused(" ".join(reading.warnings), field="vin")
    return reading.vin


@transaction.atomic
def erase_vehicle(vehicle: Vehicle) -> bool:
    """Makes a vehicle anonymous: neither plate, VIN, notes nor owner. Its make and model stay."""
    fresh: Vehicle = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    # A vehicle is known by something.
    named = fresh.make or fresh.model
    fresh.customer, fresh.plate, fresh.plate_search, fresh.vin, fresh.notes = None, "", "", "", ""
    fresh.make = fresh.make if named else "Vehicle"
    fresh.save(update_fields=["customer", "plate", "plate_search", "vin", "notes", "make"])
    return True
