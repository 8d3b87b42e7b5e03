"""Invented key systems and code books for the invented makes of the demo. No lock in the world has these figures."""

from collections.abc import Callable
from datetime import datetime
from random import Random
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from shop.staff.models import Person
from vehicles.actions import add_key_system
from vehicles.code_tokens import Tokens
from vehicles.keys import Bitting, KeySystem, even_depths, even_positions, inch
from vehicles.keys.lattice import Lattice
from vehicles.models import CodeBook, CodeRow, KeySystemSheet

SOURCE = "Invented for the demo"
ROWS_OF_A_BOOK = 2_000
# Letters that begin the codes of each make's series.
SERIES = {"Aldren": "AW", "Brixo": "BX", "Corvane": "CV", "Dunmark": "DM", "Elvara": "EL"}


def _aldren() -> KeySystem:
    """One edge in inches; the door reads all but the two cuts nearest the bow."""
    return KeySystem.from_inches(
        name="Aldren W7",
        positions_in=even_positions("0.160", "0.0925", 7),
        root_depths_in=even_depths("12345", "0.315", "0.025"),
        macs=3,
        rules=[{"rule": "max_equal_run", "n": 3}],
        locks={"ignition": range(1, 8), "door": range(3, 8)},
        flat_mm=inch("0.030"),
        angle_deg=80,
        blade_height_mm=inch("0.325"),
        blade_length_mm=inch("0.860"),
    )


def _brixo() -> KeySystem:
    """Two mirrored edges from the tip; the door does not reach the two cuts at the tip."""
    return KeySystem(
        name="Brixo B8",
        positions_mm=even_positions("3.20", "2.60", 8),
        root_depths_mm=even_depths("1234", "7.40", "0.45"),
        macs=2,
        stop="tip",
        layout="two mirrored edges",
        rules=[{"rule": "max_equal_run", "n": 3}, {"rule": "min_different", "n": 3}],
        locks={"ignition": range(1, 9), "door": range(3, 9), "boot": range(3, 7)},
        flat_mm="1.0",
        angle_deg=84,
        blade_height_mm="8.00",
        blade_length_mm="26.40",
    )


def _corvane() -> KeySystem:
    """Two independent edges with five cuts each, spaced unevenly; the door reads one edge only."""
    return KeySystem(
        name="Corvane C10",
        positions_mm=["3.40", "6.00", "8.80", "11.40", "14.20"],
        second_edge_mm=["4.60", "7.20", "10.00", "12.60", "15.40"],
        root_depths_mm=even_depths("ABCD", "6.90", "0.40"),
        macs=2,
        layout="two independent edges",
        locks={"ignition": range(1, 11), "door": range(1, 6)},
        flat_mm="1.1",
        angle_deg=95,
        blade_height_mm="7.50",
        blade_length_mm="19.60",
    )


def _dunmark() -> KeySystem:
    """A track milled into the face, read on both walls: a finished cut cannot be made deeper."""
    return KeySystem(
        name="Dunmark D9",
        positions_mm=even_positions("4.00", "2.30", 9),
        root_depths_mm=even_depths("1234", "6.60", "0.60"),
        macs=2,
        layout="internal track",
        rules=[{"rule": "max_equal_run", "n": 4}],
        locks={"ignition": range(1, 10), "door": range(1, 8), "glovebox": range(1, 5)},
        flat_mm="0.9",
        blade_height_mm="9.20",
        blade_length_mm="27.00",
        can_recut=False,
    )


def _elvara() -> KeySystem:
    """One edge whose labels rise as the cuts get shallower, with an even sum."""
    return KeySystem(
        name="Elvara E6",
        positions_mm=["3.05", "5.75", "8.45", "11.15", "13.95", "16.75"],
        root_depths_mm=even_depths("012345", "4.70", "-0.55"),
        macs=4,
        rules=[{"rule": "even_sum"}, {"rule": "forbidden_first", "labels": ["0"]}],
        locks={"ignition": range(1, 7), "driver's door": range(1, 5), "boot": [1, 2, 3]},
        flat_mm="1.1",
        angle_deg=80,
        blade_height_mm="8.00",
        blade_length_mm="20.50",
    )


MAKERS: dict[str, Callable[[], KeySystem]] = {
    "Aldren": _aldren,
    "Brixo": _brixo,
    "Corvane": _corvane,
    "Dunmark": _dunmark,
    "Elvara": _elvara,
}
# The models that carry each make's key.
MODELS = {
    "Aldren": "Wren, Heron, Bittersweet",
    "Brixo": "Kite, Tarn, Tarn Estate",
    "Corvane": "300, 500, Courier van",
    "Dunmark": "Haul, Ridge",
    "Elvara": "Sol, Lumen",
}


@transaction.atomic
def add_demo_key_systems(actor: Person, *, at: datetime | None = None) -> dict[str, KeySystemSheet]:
    """The five key systems by make, each with a code book of 2,000 codes; the same every time."""
    made = {}
    for make, build in MAKERS.items():
        sheet = add_key_system(actor=actor, system=build(), source=SOURCE, notes=f"{make} {MODELS[make]}.", at=at)
        _add_book(sheet, make, actor, at or timezone.now())
        made[make] = sheet
    return made


def demo_bitting(make: str, number: int) -> Bitting:
    """The bitting of code `number` (1 to 2,000) in the make's book."""
    return _bittings(MAKERS[make](), make)[number - 1]


def _add_book(sheet: KeySystemSheet, make: str, actor: Person, at: datetime) -> CodeBook:
    letters = SERIES[make]
    facts: dict[str, Any] = {
        "code_format": f"{letters}####",
        "first_code": f"{letters}0001",
        "last_code": f"{letters}{ROWS_OF_A_BOOK:04d}",
    }
    book = CodeBook.objects.create(
        name=f"{make} {letters} series",
        key_system=sheet,
        source=SOURCE,
        licence_note="Demo data; made up, nobody's property.",
        row_count=ROWS_OF_A_BOOK,
        imported_at=at,
        imported_by=actor,
        **facts,
    )
    tokens = Tokens(sheet.pk, sheet.system)
    table = connection.ops.quote_name(CodeRow._meta.db_table)
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} (book_id, code, labels, tokens) FROM STDIN") as copy:
        for number, bitting in enumerate(_bittings(sheet.system, make), 1):
            row = (book.pk, f"{letters}{number:04d}", list(bitting), tokens.of_row(bitting))
            copy.write_row(row)
    return book


def _bittings(system: KeySystem, make: str) -> list[Bitting]:
    """Different bittings that obey the system, drawn evenly, in a shuffled order that depends on the make alone."""
    dice, lattice = Random(f"{make} {ROWS_OF_A_BOOK}"), Lattice(system)
    found: dict[Bitting, None] = {}
    while len(found) < ROWS_OF_A_BOOK:
        found[_drawn(lattice, dice)] = None
    return list(found)


def _drawn(lattice: Lattice, dice: Random) -> Bitting:
    """One bitting, all equally likely: each arc is taken in proportion to the bittings that go on from it."""
    node, labels = lattice.start, []
    for place, arcs in enumerate(lattice.layers):
        after = lattice.ways[place + 1]
        depth, node = dice.choices(arcs[node], weights=[after[target] for _, target in arcs[node]])[0]
        labels.append(depth.label)
    return tuple(labels)
