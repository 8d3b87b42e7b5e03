"""Invented vehicle families, variants and procedures for the invented makes of the demo."""

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from shop.staff.models import Person
from shop.stock.models import Item
from vehicles import demo_procedures as steps
from vehicles.actions import accept_version, add_family, add_procedure, add_variant, find_family, propose_version
from vehicles.models import KeySystemSheet, Procedure, Variant, Vehicle, VehicleFamily
from vehicles.procedure_content import Content
from vehicles.states import ItemRole, KindOfWork

SOURCE = "Invented for the demo"
TRIAL, TRANSPONDER, FOB = ItemRole.TRIAL, ItemRole.TRANSPONDER, ItemRole.FOB


@dataclass(frozen=True)
class Kind:
    """A family of the demo. Procedures by kind of work, under the name of their variant, or "" for every one."""

    make: str
    name: str
    models: tuple[str, ...]
    years: tuple[int, int]
    items: tuple[tuple[str, ItemRole], ...]
    facts: dict[str, Any] = field(default_factory=dict)
    variants: dict[str, str] = field(default_factory=dict)
    procedures: tuple[tuple[str, KindOfWork, Content], ...] = ()


def _kinds() -> tuple[Kind, ...]:
    return (_wren_first(), _wren_second(), _bittersweet(), *_brixo(), *_corvane(), _dunmark(), _elvara())


def _wren_first() -> Kind:
    return Kind(
        "Aldren",
        "Wren, first shape",
        ("Wren", "Heron"),
        (2004, 2013),
        (("B-101", TRIAL), ("T-310", TRANSPONDER)),
        {
            "transponder": "Glass pill, fixed code",
            "key_capacity": 4,
            "code_place": "Tag behind the glovebox lid",
            "access_steps": "Open the glovebox.\nPress both stops in, let the lid hang.\nThe tag is on the left hinge.",
            "access_tools": "None",
            "notes": "The tag is often gone on cars that had a new glovebox.",
        },
        procedures=(
            ("", steps.LOST, steps.all_keys_lost(10, proved="Jonas Brackwater, a 2009 Heron")),
            ("", steps.DUPLICATE, steps.duplicate("Sadie Pemberley-Oak, a 2011 Wren")),
        ),
    )


def _wren_second() -> Kind:
    return Kind(
        "Aldren",
        "Wren, second shape",
        ("Wren", "Heron"),
        (2013, 2025),
        (("B-101", TRIAL), ("T-310", TRANSPONDER), ("F-410", FOB)),
        {
            "transponder": "Coded chip, rolling answer",
            "has_remote": True,
            "key_capacity": 8,
            "code_place": "Stamped on the passenger door lock",
            "access_steps": "Take the screw out of the door edge.\nPull the lock out with its rod.\nRead the stamp.",
            "access_tools": "Torx 30, hook",
            "access_caution": "The door's airbag sensor sits beside the lock: do not lever on it.",
            "is_near_airbag": True,
        },
        {
            "Early board": "The light beside the clock is orange, and stands still with the ignition on.",
            "Late board": "The light beside the clock is red, and blinks twice before it goes out.",
        },
        (
            ("Early board", steps.LOST, steps.all_keys_lost(12, proved="Jonas Brackwater, a 2014 Wren")),
            (
                "Late board",
                steps.LOST,
                steps.all_keys_lost(
                    48,
                    steps.check("Two blinks, then dark: it is the late board. Stop if the light stands still."),
                    proved="Priya Saltmarsh, a 2019 Heron",
                ),
            ),
            ("", steps.DUPLICATE, steps.duplicate("Tomasz Underhay, a 2017 Wren")),
        ),
    )


def _bittersweet() -> Kind:
    return Kind(
        "Aldren",
        "Bittersweet",
        ("Bittersweet",),
        (2006, 2025),
        (("B-101", TRIAL), ("F-410", FOB)),
        {"transponder": "Coded chip, rolling answer", "has_remote": True, "key_capacity": 5},
        procedures=(("", steps.PROGRAMMING, steps.fob(6, "Sadie Pemberley-Oak, a 2016 Bittersweet")),),
    )


def _brixo() -> tuple[Kind, ...]:
    code = {"code_place": "Under the boot floor, on the spare wheel's bolt card", "access_tools": "None"}
    common: dict[str, Any] = {"transponder": "Coded chip, fixed answer", "key_capacity": 5, **code}
    items = (("B-102", TRIAL), ("T-320", TRANSPONDER))
    lost = steps.all_keys_lost(15, proved="Tomasz Underhay, a 2012 Kite")
    return (
        Kind(
            "Brixo",
            "Kite",
            ("Kite",),
            (2006, 2025),
            items,
            {**common, "notes": "Column lock wears: the key sticks at accessory long before it fails."},
            procedures=(
                ("", steps.LOST, lost),
                ("", KindOfWork.IGNITION_LOCK, steps.ignition_lock("Jonas Brackwater, several")),
            ),
        ),
        Kind(
            "Brixo",
            "Tarn",
            ("Tarn", "Tarn Estate"),
            (2007, 2025),
            items,
            common,
            procedures=(("", steps.LOST, replace(lost, proved_by="Tomasz Underhay, a 2015 Tarn Estate")),),
        ),
    )


def _corvane() -> tuple[Kind, ...]:
    common: dict[str, Any] = {"transponder": "Coded chip, two-way", "key_capacity": 4}
    items = (("B-120", TRIAL), ("T-330", TRANSPONDER))
    return (
        Kind("Corvane", "300", ("300",), (2006, 2025), items, common),
        Kind(
            "Corvane",
            "500 with slot",
            ("500",),
            (2010, 2025),
            (("F-430", FOB), ("B-120", TRIAL)),
            {
                **common,
                "has_remote": True,
                "notes": "The blade sits in the fob's back; a flat cell is mostly the whole trouble.",
            },
            procedures=(("", steps.PROGRAMMING, steps.fob(25, "Priya Saltmarsh, a 2018 Corvane 500")),),
        ),
        Kind(
            "Corvane",
            "Courier",
            ("Courier van",),
            (2006, 2025),
            items,
            common,
            procedures=(("", KindOfWork.LOCK_OUT, steps.lock_out("Jonas Brackwater, many")),),
        ),
    )


def _dunmark() -> Kind:
    return Kind(
        "Dunmark",
        "Haul and Ridge",
        ("Haul", "Ridge"),
        (2006, 2025),
        (("B-120", TRIAL), ("T-340", TRANSPONDER)),
        {
            "transponder": "Coded chip, fixed answer",
            "vin_pattern": "2Z9DU",
            "key_capacity": 8,
            "code_place": "Paper in the owner's wallet; nowhere on the vehicle",
        },
        {
            "With pillar alarm": "A second, round light stands on the dashboard near the windscreen: the alarm's.",
            "Without alarm": "Only the key-shaped light in the instruments.",
        },
        (("", steps.LOST, steps.all_keys_lost(32, proved="Jonas Brackwater, a 2020 Ridge")),),
    )


def _elvara() -> Kind:
    return Kind(
        "Elvara",
        "Sol and Lumen",
        ("Sol", "Lumen"),
        (2006, 2025),
        (("F-450", FOB),),
        {
            "transponder": "Keyless, near field at the column",
            "has_remote": True,
            "key_capacity": 6,
            "code_place": "On the lock behind the driver's handle cap",
            "access_steps": "Push the cap's slot with a thin blade.\nDraw the cap toward the rear.",
            "access_tools": "Plastic wedge",
        },
        procedures=(("", steps.PROGRAMMING, steps.fob(18, "Sadie Pemberley-Oak, a 2022 Sol")),),
    )


@transaction.atomic
def add_demo_families(
    actor: Person, *, author: Person | None = None, at: datetime | None = None
) -> dict[str, VehicleFamily]:
    """The families by make and name, their procedures in force, and one proposal that waits.

    `actor` accepts what `author` wrote. Items and key systems are those of the demo that are there. Vehicles whose
    family is beyond doubt get it.
    """
    at = at or timezone.now()
    items = {item.number: item for item in Item.objects.all()}
    systems = {sheet.name.split()[0]: sheet for sheet in KeySystemSheet.objects.in_use()}
    made = {}
    for kind in _kinds():
        family = _add(kind, actor, author or actor, at, items, systems.get(kind.make))
        made[str(family)] = family
    _propose_a_change(made["Brixo Kite"], author or actor, at + timedelta(days=60))
    for vehicle in Vehicle.objects.filter(family=None):
        find_family(vehicle)
    return made


def _add(
    kind: Kind, actor: Person, author: Person, at: datetime, items: dict[str, Item], system: KeySystemSheet | None
) -> VehicleFamily:
    family = add_family(
        actor=actor,
        items=[(items[number], role) for number, role in kind.items if number in items],
        at=at,
        make=kind.make,
        name=kind.name,
        model_names=list(kind.models),
        year_from=kind.years[0],
        year_until=kind.years[1],
        key_system=system,
        source=SOURCE,
        **kind.facts,
    )
    variants: dict[str, Variant] = {
        name: add_variant(family, actor=actor, name=name, sign=sign) for name, sign in kind.variants.items()
    }
    for variant, work, content in kind.procedures:
        made = add_procedure(
            family, actor=author, kind_of_work=work, content=content, variant=variants.get(variant), at=at
        )
        accept_version(made.versions.get(), actor=actor, at=at + timedelta(days=1))
    return family


def _propose_a_change(family: VehicleFamily, author: Person, at: datetime) -> None:
    """What a technician learned last month, not yet accepted."""
    procedure = Procedure.objects.get(family=family, kind_of_work=KindOfWork.ALL_KEYS_LOST)
    version = procedure.versions.get()
    content = steps.all_keys_lost(
        20,
        steps.do("Switch the heated rear window off before the wait: it draws the supply down."),
        proved="Sadie Pemberley-Oak, a 2021 Kite",
    )
    propose_version(
        procedure,
        actor=author,
        content=content,
        based_on=version,
        change_words="Cold mornings: the wait is longer, and the rear window pulls the battery down.",
        at=at,
    )
