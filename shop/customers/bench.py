"""Many invented customers, the same every time, for measuring searches and lists."""

import random
from collections.abc import Iterator

from django.db import connection

from shop.customers.models import Address, Customer, CustomerPhone

FIRST = (
    "Ada Ben Cora Dov Ella Finn Gwen Hugo Ines Jon Kaya Leo Mara Nils Olga Pia Quin Rosa Sven Tess Uma Vito Wren Yara"
)
HEADS = "Al Bar Cal Dun El Far Gar Hol Is Jor Kel Lin Mar Nor Os Pel Quar Ros Sel Tor Ul Ver Wal Yar Zan"
MIDDLES = "a be da e fi go i ka le mo na o ri sa te u va we"
TAILS = "berg croft dale field ford gate ham holm land ley ling man mere ner quist ridge son stead ton ward wick"
BUSINESS = "Motors Garage Fleet Rentals Bodyworks Lettings Couriers Taxis"
STREETS = "Mill Orchard Harbour Station Chapel Meadow Quarry Foundry"


def load_customers(count: int, *, seed: int = 1) -> list[int]:
    """Adds `count` customers with one to three numbers and an address; returns their ids. By COPY, past the actions:
    a measurement needs the rows, not their history."""
    dice = random.Random(seed)
    people = list(_people(count, dice))
    with connection.cursor() as cursor:
        cursor.execute("SELECT coalesce(max(id), 0) FROM customers_customer")
        first = cursor.fetchone()[0] + 1
        ids = list(range(first, first + count))
        _copy(
            cursor,
            Customer,
            "id, kind, name, contact_name, warning, notes, terms_days, billing_address, tax_number, created_at",
            ((pk, *row) for pk, row in zip(ids, people, strict=True)),
        )
        numbers = ((pk, number, "") for pk in ids for number in _numbers(dice))
        _copy(cursor, CustomerPhone, "customer_id, number, label", numbers)
        streets = (
            (pk, "", f"{dice.randint(1, 180)} {dice.choice(STREETS.split())} Street", "Brackwater", "", "")
            for pk in ids
        )
        _copy(cursor, Address, "customer_id, label, street, town, postcode, access_notes", streets)
        _after(cursor)
    return ids


def invented_name(dice: random.Random) -> str:
    return dice.choice(HEADS.split()) + dice.choice(MIDDLES.split()) + dice.choice(TAILS.split())


def _people(count: int, dice: random.Random) -> Iterator[tuple[object, ...]]:
    for _ in range(count):
        family = invented_name(dice)
        is_business = dice.random() < 0.12
        name = f"{family} {dice.choice(BUSINESS.split())}" if is_business else f"{dice.choice(FIRST.split())} {family}"
        contact = dice.choice(FIRST.split()) if is_business else ""
        yield (
            "account" if is_business else "person",
            name,
            contact,
            "",
            "",
            30 if is_business else 0,
            "",
            "",
            "2026-01-01T00:00:00Z",
        )


def _numbers(dice: random.Random) -> set[str]:
    return {f"+1{dice.randint(201, 989)}555{dice.randint(0, 9999):04d}" for _ in range(dice.choice((1, 1, 1, 2, 3)))}


def _copy(cursor: object, model: type, columns: str, rows: Iterator[tuple[object, ...]]) -> None:
    with cursor.copy(f'COPY "{model._meta.db_table}" ({columns}) FROM STDIN') as copy:  # type: ignore[attr-defined]
        for row in rows:
            copy.write_row(row)


def _after(cursor: object) -> None:
    cursor.execute(  # type: ignore[attr-defined]
        "SELECT setval(pg_get_serial_sequence('customers_customer', 'id'), (SELECT max(id) FROM customers_customer))"
    )
