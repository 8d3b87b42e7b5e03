"""What is measured of the search that runs while somebody types who is calling."""

import time
from random import Random
from urllib.parse import urlencode

from django.db import connection
from django.urls import reverse

from shop.bench import Bench, Result, Times, figure
from shop.bench.asking import Asker
from shop.customers.models import Customer, CustomerPhone
from shop.staff.actions import add_person
from shop.staff.models import Person
from shop.staff.roles import Role
from vehicles.bench import load
from vehicles.callers import statement
from vehicles.code_figures import by_code, by_cuts
from vehicles.models import Vehicle

# Registered by being here.
__all__ = ["by_code", "by_cuts", "caller", "typed_texts"]

CUSTOMERS = 100_000
WARM_UP, REQUESTS = 30, 400


@figure("caller found while typing, 100,000 customers, p95", bound="4 x B0 + 1.5 x SQL", order=30)
def caller(bench: Bench) -> Result:
    """Numbers, names, plates and VINs, each cut off somewhere as it is typed; page, B0 and bare query in turn."""
    desk = bench.once("hundred thousand", _fill)
    texts = typed_texts(WARM_UP + REQUESTS)
    asker = Asker(bench.program.port, desk)
    page, short, bare = [], [], []
    for number, text in enumerate(texts):
        took = asker.timed(f"{reverse('vehicles:caller')}?{urlencode({'q': text})}"), asker.timed("/bench/B0")
        took_bare = _bare(text)
        if number >= WARM_UP:
            page.append(took[0])
            short.append(took[1])
            bare.append(took_bare)
    asker.close()
    whole, b0, sql = Times(tuple(page)).p95, Times(tuple(short)).p95, Times(tuple(bare)).p95
    words = f"{whole:.1f} ms; B0 {b0:.1f} ms, SQL {sql:.1f} ms, bound {4 * b0 + 1.5 * sql:.1f} ms"
    queries = bench.queries(f"{reverse('vehicles:caller')}?q=holm", desk)
    return Result(f"{words}, {queries} queries", whole <= 4 * b0 + 1.5 * sql)


def typed_texts(count: int, *, seed: int = 7) -> list[str]:
    """What people type of rows that exist, cut off anywhere, and one in ten with a wrong letter in it."""
    dice = Random(seed)
    whole = [_number(dice), _name(dice), _plate(dice), _vin(dice)]
    texts = []
    for number in range(count):
        text = whole[number % len(whole)][number // len(whole) % _KEPT]
        text = text[: dice.randint(1, len(text))]
        if dice.random() < 0.1:
            place = dice.randrange(len(text))
            text = f"{text[:place]}x{text[place + 1 :]}"
        texts.append(text)
    return texts


_KEPT = 50


def _number(dice: Random) -> list[str]:
    numbers = CustomerPhone.objects.order_by("id").values_list("number", flat=True)[: CUSTOMERS // 10]
    return [f"({n[2:5]}) {n[5:8]}-{n[8:]}" for n in dice.sample(list(numbers), _KEPT)]


def _name(dice: Random) -> list[str]:
    return dice.sample(list(Customer.objects.order_by("id").values_list("name", flat=True)[: CUSTOMERS // 10]), _KEPT)


def _plate(dice: Random) -> list[str]:
    plates = Vehicle.objects.exclude(plate="").order_by("id").values_list("plate", flat=True)
    return dice.sample(list(plates[: CUSTOMERS // 10]), _KEPT)


def _vin(dice: Random) -> list[str]:
    vins = Vehicle.objects.exclude(vin="").order_by("id").values_list("vin", flat=True)[: CUSTOMERS // 10]
    return [vin[-8:] if number % 2 else vin for number, vin in enumerate(dice.sample(list(vins), _KEPT))]


def _bare(text: str) -> float:
    """Milliseconds of the search's statement alone, rows fetched."""
    sql, values = statement(text)
    started = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        cursor.fetchall()
    return (time.perf_counter() - started) * 1000


def _fill() -> Person:
    load(CUSTOMERS)
    return add_person(
        actor=None, name="Bench Caller Desk", email="desk@bench.example", roles=[Role.OFFICE], password=None
    )
