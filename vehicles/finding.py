"""Finds a vehicle's family among those the shop knows."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from vehicles.families import FamilyFacts, Match, Sureness, VehicleFacts, match, overlapping
from vehicles.models import Vehicle, VehicleFamily
from vehicles.vin import read_vin


@dataclass(frozen=True)
class FoundFamily:
    """A family with how sure it is that the vehicle belongs to it, and why."""

    family: VehicleFamily
    match: Match

    @property
    def is_certain(self) -> bool:
        return self.match.sureness is Sureness.CERTAIN

    @property
    def why(self) -> str:
        return ", ".join(self.match.why)


def facts_of(family: VehicleFamily) -> FamilyFacts:
    return FamilyFacts(
        id=family.pk,
        make=family.make,
        model_names=tuple(family.model_names),
        year_from=family.year_from,
        year_until=family.year_until,
        market=family.market,
        vin_pattern=family.vin_pattern,
    )


def vehicle_facts(*, make: str = "", model: str = "", year: int | None = None, vin: str = "") -> VehicleFacts:
    """What is known of a vehicle; a whole VIN says the year where nobody did."""
    reading = read_vin(vin, today=timezone.localdate()) if vin else None
    years = reading.years if reading and reading.is_well_formed and year is None else ()
    return VehicleFacts(make=make, model=model, year=year, vin=reading.vin if reading else "", years=years)


def find_families(facts: VehicleFacts, families: Iterable[VehicleFamily] | None = None) -> list[FoundFamily]:
    """The families a vehicle may belong to, the surest first. One query."""
    if not (facts.make or facts.vin):
        return []
    known = {family.pk: family for family in (VehicleFamily.objects.in_use() if families is None else families)}
    found = match(facts, (facts_of(family) for family in known.values()))
    return [FoundFamily(known[each.id], each) for each in found]


def family_of(vehicle: Vehicle) -> VehicleFamily | None:
    """The one family this vehicle belongs to without doubt, or None."""
    facts = vehicle_facts(make=vehicle.make, model=vehicle.model, year=vehicle.year, vin=vehicle.vin)
    return next((each.family for each in find_families(facts) if each.is_certain), None)


def overlaps_among(facts: FamilyFacts) -> list[VehicleFamily]:
    """Families in use, other than this one, that some vehicle would fit as well."""
    others = {other.pk: other for other in VehicleFamily.objects.in_use().of_make(facts.make)}
    return [others[each.id] for each in overlapping(facts, map(facts_of, others.values()))]
