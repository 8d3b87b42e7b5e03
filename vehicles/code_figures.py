"""What is measured of the code books: a million rows searched by code and by some of their cuts."""

import time
from collections.abc import Callable
from random import Random
from typing import Any

from django.db import connection
from django.utils import timezone

from shop.bench import Bench, Result, Times, figure
from shop.staff.actions import add_person
from shop.staff.models import Person
from shop.staff.roles import Role
from vehicles.actions import add_key_system
from vehicles.actions.code_looks import look_up, rows_with_code, rows_with_cuts
from vehicles.code_tokens import Tokens
from vehicles.keys import KeySystem, even_depths, even_positions
from vehicles.models import CodeBook, CodeRow, KeySystemSheet

ROWS = 1_000_000
CUTS, LABELS = 8, "12345"
WARM_UP, ASKED = 20, 220

# The bare query of each search, as a client of the database would send it.
BY_CODE = "SELECT id, book_id, code, labels FROM vehicles_coderow WHERE code = %s"
BY_CUTS = (
    "SELECT id, book_id, code, labels, count(*) OVER () FROM vehicles_coderow "
    "WHERE tokens @> %s::int[] ORDER BY code LIMIT 500"
)


@figure("code to cuts, 1,000,000 codes, p95", bound="3 x SQL", order=40)
def by_code(bench: Bench) -> Result:
    """The search of a look against the bare query."""
    desk, _ = bench.once("million codes", _fill)
    dice = Random(3)
    codes = [f"M{dice.randrange(ROWS):07d}" for _ in range(WARM_UP + ASKED)]
    written = _p95([_timed(lambda code=code: look_up(code, actor=desk, reason="bench")) for code in codes])  # type: ignore[misc]
    return _compared(codes, rows_with_code, BY_CODE, lambda code: [code], f"; {written:.1f} ms written down")


@figure("cuts with unknown ones to codes, 1,000,000 codes, p95", bound="3 x SQL", order=41)
def by_cuts(bench: Bench) -> Result:
    """Two to four of eight cuts unknown, as a door that reads fewer leaves them."""
    _, sheet = bench.once("million codes", _fill)
    dice = Random(5)
    asked = [_some_cuts(dice) for _ in range(WARM_UP + ASKED)]
    return _compared(
        asked,
        lambda known: rows_with_cuts(sheet, known),
        BY_CUTS,
        lambda known: [Tokens(sheet.pk, sheet.system).of_search(known)],
    )


def _some_cuts(dice: Random) -> list[str | None]:
    known: list[str | None] = [dice.choice(LABELS) for _ in range(CUTS)]
    for place in dice.sample(range(CUTS), dice.randint(2, 4)):
        known[place] = None
    return known


def _compared(
    asked: list[Any], search: Callable[[Any], object], sql: str, values: Callable[[Any], list[Any]], more: str = ""
) -> Result:
    """p95 of the search against 3 times that of the bare query, taken in turn."""
    ours: list[float] = []
    bare: list[float] = []
    for each in asked:
        ours.append(_timed(lambda each=each: search(each)))  # type: ignore[misc]
        bare.append(_bare(sql, values(each)))
    whole, alone = _p95(ours), _p95(bare)
    words = f"{whole:.1f} ms; SQL {alone:.1f} ms, bound {3 * alone:.1f} ms{more}"
    return Result(words, whole <= 3 * alone)


def _p95(times: list[float]) -> float:
    """Without the first ones, which warm the database up."""
    return Times(tuple(times[WARM_UP:])).p95


def _timed(do: Callable[[], object]) -> float:
    started = time.perf_counter()
    do()
    return (time.perf_counter() - started) * 1000


def _bare(sql: str, values: list[Any]) -> float:
    def ask() -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
            cursor.fetchall()

    return _timed(ask)


def _fill() -> tuple[Person, KeySystemSheet]:
    desk = add_person(
        actor=None, name="Bench Code Desk", email="codes@bench.example", roles=[Role.OFFICE], password=None
    )
    system = KeySystem(
        name="Bench K8",
        positions_mm=even_positions("4", "2.5", CUTS),
        root_depths_mm=even_depths(LABELS, "8", "0.5"),
    )
    sheet = add_key_system(actor=desk, system=system)
    book = CodeBook.objects.create(
        name="Bench book",
        key_system=sheet,
        source="made up",
        licence_note="bench",
        row_count=ROWS,
        imported_at=timezone.now(),
    )
    fill_book(book, ROWS)
    return desk, sheet


def fill_book(book: CodeBook, rows: int) -> None:
    """Random bittings of the bench's system, by COPY."""
    dice, tokens = Random(rows), Tokens(book.key_system_id, book.key_system.system)
    table = connection.ops.quote_name(CodeRow._meta.db_table)
    with connection.cursor() as cursor:
        with cursor.copy(f"COPY {table} (book_id, code, labels, tokens) FROM STDIN") as copy:
            for number in range(rows):
                bitting = dice.choices(LABELS, k=CUTS)
                copy.write_row((book.pk, f"M{number:07d}", bitting, tokens.of_row(bitting)))
        cursor.execute("SELECT gin_clean_pending_list('code_row_tokens')")
        cursor.execute("VACUUM ANALYZE vehicles_coderow")
