"""What the pages of families and procedures show."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from shop.stock.models import Balance, Item
from vehicles.finding import FoundFamily, find_families, vehicle_facts
from vehicles.models import Procedure, ProcedureVersion, Variant, Vehicle, VehicleFamily
from vehicles.procedure_content import STEP_FIELDS, Content, StepContent
from vehicles.states import VersionState


@dataclass(frozen=True)
class ItemLine:
    """An item of a family's keys: what it is to them, and which places hold how many of it."""

    item: Item
    role: str
    places: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Known:
    """What is known as soon as a vehicle is. `found` are the families to choose from while `family` is open."""

    kind: str
    vehicle: Vehicle | None = None
    family: VehicleFamily | None = None
    is_confirmed: bool = False
    variant: Variant | None = None
    found: tuple[FoundFamily, ...] = ()
    why: str = ""
    items: tuple[ItemLine, ...] = ()
    variants: tuple[Variant, ...] = ()
    versions: tuple[ProcedureVersion, ...] = field(default=())

    @property
    def equipment(self) -> list[str]:
        """What the procedures of this work ask for, each once."""
        return list(dict.fromkeys(each for version in self.versions for each in version.equipment))


def content_of(version: ProcedureVersion) -> Content:
    """What a version says."""
    steps = tuple(StepContent(**{name: getattr(step, name) for name in STEP_FIELDS}) for step in version.steps.all())
    return Content(
        steps=steps,
        source=version.source,
        proved_by=version.proved_by,
        equipment=tuple(version.equipment),
        low_volts=version.low_volts,
        high_volts=version.high_volts,
    )


def item_lines(family: VehicleFamily) -> tuple[ItemLine, ...]:
    """The items of a family with the places that hold some. `family` was loaded `with_key`."""
    lines = list(family.family_items.all())
    held: dict[int, list[tuple[str, int]]] = {}
    balances = Balance.objects.filter(item__in=[line.item_id for line in lines], quantity__gt=0)
    for balance in balances.select_related("place").order_by("place__kind", "place__name"):
        held.setdefault(balance.item_id, []).append((balance.place.name, balance.quantity))
    return tuple(ItemLine(line.item, str(line.get_role_display()), tuple(held.get(line.item_id, ()))) for line in lines)


def procedures_of(family: VehicleFamily) -> list[tuple[Procedure, ProcedureVersion | None, int]]:
    """Each procedure of a family with the version in force, and how many proposals wait."""
    procedures = family.procedures.select_related("variant").prefetch_related("versions")
    told = []
    for procedure in procedures.order_by("kind_of_work", "variant_id"):
        procedure.family = family
        versions = list(procedure.versions.all())
        in_force = next((each for each in versions if each.state == VersionState.ACCEPTED), None)
        told.append((procedure, in_force, sum(each.state == VersionState.PROPOSED for each in versions)))
    return told


def known_of_vehicle(vehicle: Vehicle, kind: str = "") -> Known:
    """What is known about a vehicle the shop has: its family, or those it may belong to."""
    if vehicle.family_id:
        family = VehicleFamily.objects.with_key().get(pk=vehicle.family_id)
        return _told(family, kind, vehicle=vehicle, variant=vehicle.variant, is_confirmed=vehicle.family_is_confirmed)
    facts = vehicle_facts(make=vehicle.make, model=vehicle.model, year=vehicle.year, vin=vehicle.vin)
    return Known(kind, vehicle, found=tuple(find_families(facts)))


def known_of_facts(kind: str = "", **facts: Any) -> Known:
    """What is known about a vehicle as it is being told: `make`, `model`, `year`, `vin`."""
    found = find_families(vehicle_facts(**facts))
    if found and found[0].is_certain:
        family = VehicleFamily.objects.with_key().get(pk=found[0].family.pk)
        return _told(family, kind, why=found[0].why)
    return Known(kind, found=tuple(found))


def _told(family: VehicleFamily, kind: str, **more: Any) -> Known:
    variants = tuple(family.variants.filter(is_active=True))
    return Known(
        kind,
        family=family,
        items=item_lines(family),
        variants=variants,
        versions=tuple(versions_for(family, kind, more.get("variant"))),
        **more,
    )


def versions_for(family: VehicleFamily, kind: str, variant: Variant | None) -> Iterable[ProcedureVersion]:
    """The versions in force for this work: the chosen variant's own, else the family's; all while none is chosen."""
    if not kind:
        return ()
    found = ProcedureVersion.objects.accepted().filter(procedure__family=family, procedure__kind_of_work=kind)
    if variant:
        found = found.filter(procedure__variant__in=[variant]) or found.filter(procedure__variant=None)
    told: Iterable[ProcedureVersion] = found.select_related("procedure__family", "procedure__variant").order_by("pk")
    return told
