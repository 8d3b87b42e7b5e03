"""Many invented vehicles, the same every time, and how fast a caller is found among them."""

import random
import string
from collections.abc import Iterator, Sequence

from django.db import connection

from shop.customers.bench import load_customers
from vehicles.models import Vehicle

# Invented makes and models.
MAKES = {"Corvane": "Lume Tarn Vela", "Halden": "Brisk Moor Steppe", "Norrik": "Ask Fjell Myr", "Pellis": "Duo Rigel"}
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"


def load_vehicles(customer_ids: Sequence[int], *, seed: int = 1) -> int:
    """Gives customers none to three vehicles each, by COPY; returns how many. VINs carry no real maker's code."""
    dice = random.Random(seed)
    rows = [(pk, *row) for pk in customer_ids for row in _vehicles(dice)]
    columns = "customer_id, plate, plate_search, vin, year, make, model, colour, notes, created_at, family_is_confirmed"
    with connection.cursor() as cursor:
        with cursor.copy(f'COPY "{Vehicle._meta.db_table}" ({columns}) FROM STDIN') as copy:
            for row in rows:
                copy.write_row(row)
        cursor.execute("ANALYZE")
    return len(rows)


def load(count: int, *, seed: int = 1) -> None:
    """`count` customers with their vehicles."""
    load_vehicles(load_customers(count, seed=seed), seed=seed)


def _vehicles(dice: random.Random) -> Iterator[tuple[object, ...]]:
    for _ in range(dice.choice((0, 1, 1, 1, 2, 3))):
        make = dice.choice(list(MAKES))
        plate = "".join(dice.choices(LETTERS, k=3)) + f" {dice.randint(0, 9999):04d}"
        vin = "".join(dice.choices(LETTERS + string.digits, k=17)) if dice.random() < 0.6 else ""
        yield (
            plate,
            plate.replace(" ", ""),
            vin,
            dice.randint(1996, 2026),
            make,
            dice.choice(MAKES[make].split()),
            "",
            "",
            "2026-01-01T00:00:00Z",
            False,
        )
