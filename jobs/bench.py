"""A busy day of a large shop, made through the actions, by which the day sheet is measured."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random

from django.utils import timezone

from jobs.actions import arrive, book_visit, finish_visit, set_off, take_call
from jobs.day.span import moment
from jobs.models import Job
from jobs.states import KindOfWork, LockedIn
from shop.actions import change_shop
from shop.customers.actions import add_customer
from shop.customers.models import Customer
from shop.models import Shop
from shop.staff.actions import add_person, set_week
from shop.staff.models import Person
from shop.staff.roles import Role
from vehicles.actions import add_vehicle

TECHNICIANS, VISITS, WAITING = 8, 60, 20
FIRST_NAMES = ("Ada", "Bo", "Cilla", "Dov", "Ebbe", "Fenna", "Gus", "Hedda", "Ivo", "Jory", "Kaia", "Lorne")
LAST_NAMES = ("Brandt", "Calloway", "Dunmore", "Estrid", "Farrow", "Galt", "Hartwell", "Inskip", "Jessop", "Kettering")
STREETS = ("Mill Lane", "Quay Street", "Upper Terrace", "Foundry Row", "Station Hill", "Orchard Road", "Canal Walk")
TOWNS = ("Harrow Mere", "Saltby", "Fennwick")
MAKES = (("Merrow", "Tern"), ("Calder", "Vale"), ("Orrin", "Sprint"), ("Tavish", "Carrier"))
# Work that is finished here is of kinds that no shipped record rule asks papers for.
WITHOUT_PAPERS = (KindOfWork.DOOR_LOCK, KindOfWork.REKEY, KindOfWork.OTHER)
# An invented town on open water, so that no real street is meant.
LATITUDE, LONGITUDE = Decimal("48.000000"), Decimal("-30.000000")


def build_day(
    day: date,
    *,
    technicians: int = TECHNICIANS,
    visits: int = VISITS,
    waiting: int = WAITING,
    seed: int = 1,
    now: datetime | None = None,
) -> list[Person]:
    """Fills a day: visits one after another for each technician, worked as far as `now` goes, and waiting calls.

    Returns the technicians. The same seed makes the same day.
    """
    random, now, zone = Random(seed), now or timezone.now(), timezone.get_current_timezone()
    change_shop(actor=None, latitude=LATITUDE, longitude=LONGITUDE)
    Shop.forget()
    people = [_technician(number, day) for number in range(technicians)]
    starts = {person.pk: moment(day, time(8, 15 * (person.pk % 3)), zone) for person in people}
    for number in range(visits):
        person = people[number % technicians]
        starts[person.pk] = _visit(random, person, starts[person.pk], now)
    for _ in range(waiting):
        promised = now + timedelta(minutes=random.choice((-20, 10, 25, 60, 90, 150, 240, 400, 1500)))
        _call(random, promised, called_at=now - timedelta(minutes=random.randint(2, 90)))
    return people


def _technician(number: int, day: date) -> Person:
    name = f"{FIRST_NAMES[number % len(FIRST_NAMES)]} {LAST_NAMES[(number * 3) % len(LAST_NAMES)]}"
    person = add_person(
        actor=None, name=name, email=f"bench{number}@shop.example", roles=[Role.TECHNICIAN], password=None
    )
    hours = (time(7), time(17)) if number % 2 else (time(8), time(18))
    set_week(person, actor=None, shifts={day.weekday(): hours})
    return person


def _customer(random: Random) -> Customer:
    name = f"{random.choice(FIRST_NAMES)} {random.choice(LAST_NAMES)}"
    phone = f"+1201555{random.randint(100, 199):04}"
    return add_customer(actor=None, name=name, phones=[(phone, "")])


def _call(
    random: Random, promised: datetime, *, called_at: datetime, kinds: Sequence[str] = tuple(KindOfWork.values)
) -> Job:
    customer = _customer(random)
    make, model = random.choice(MAKES)
    plate = f"{random.choice('KLMNPR')}{random.choice('ABCDE')}{random.randint(10, 99)} {random.randint(100, 999)}"
    vehicle = add_vehicle(
        actor=None, customer=customer, plate=plate, year=random.randint(2004, 2026), make=make, model=model
    )
    promise_from = promised - timedelta(minutes=promised.minute % 15, seconds=promised.second)
    return take_call(
        actor=None,
        customer=customer,
        vehicle=vehicle,
        kind_of_work=random.choice(kinds),
        called_at=called_at,
        locked_in=LockedIn.CHILD if random.random() < 0.02 else LockedIn.NOBODY,
        caller_name=customer.name,
        caller_phone=customer.phones.get().number,
        street=f"{random.randint(1, 140)} {random.choice(STREETS)}",
        town=random.choice(TOWNS),
        latitude=LATITUDE + Decimal(random.randint(-60, 60)) / 1000,
        longitude=LONGITUDE + Decimal(random.randint(-90, 90)) / 1000,
        promise_from=promise_from.replace(microsecond=0),
        promise_until=promise_from.replace(microsecond=0) + timedelta(hours=1),
        expected_minutes=random.choice((30, 45, 60, 90)),
    )


def _visit(random: Random, person: Person, start: datetime, now: datetime) -> datetime:
    """Books one visit from `start` on, works it as far as the clock has come, and tells when the next can begin."""
    length = timedelta(minutes=random.choice((30, 45, 60, 75)))
    promised = start - timedelta(minutes=random.choice((0, 15, 15, 30, 30, 70)))
    kinds = WITHOUT_PAPERS if start + length < now else tuple(KindOfWork.values)
    job = _call(random, promised, called_at=start - timedelta(hours=3), kinds=kinds)
    visit = book_visit(job, actor=None, technician=person, start=start, end=start + length, at=job.called_at)
    leaves, arrives, ends = (start + timedelta(minutes=each) for each in (-15, random.randint(-3, 12), 0))
    ends += length
    if leaves < now:
        visit = set_off(visit, actor=person, at=leaves)
    if arrives < now:
        visit = arrive(visit, actor=person, at=arrives)
    if ends < now:
        finish_visit(visit, actor=person, at=ends)
    return start + length + timedelta(minutes=random.choice((15, 15, 30)))
