"""Today, half done: finished visits, one on site, one on the way, some booked, and calls still waiting."""

from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from billing.demo import authority, story
from billing.demo.base import Cast
from billing.demo.history import drive_minutes
from billing.demo.story import Call
from jobs import actions as jobs
from jobs.demo_keys import add_demo_key_work
from jobs.models import Job, Visit
from jobs.states import KindOfWork, LockedIn
from shop.customers.models import Customer
from vehicles.models import Vehicle

# For each technician: kinds of work done so far today, in order, then what is on now ("on_site", "on_the_way" or
# nothing), then kinds booked for later with the hours from now at which they start.
DAY: list[tuple[list[KindOfWork], str, list[tuple[KindOfWork, float]]]] = [
    (
        [KindOfWork.LOCK_OUT, KindOfWork.DUPLICATE_KEY],
        "on_site",
        [(KindOfWork.LOCK_OUT, 1.25), (KindOfWork.REKEY, 2.75)],
    ),
    ([KindOfWork.BROKEN_KEY, KindOfWork.PROGRAMMING], "on_the_way", [(KindOfWork.ALL_KEYS_LOST, 2.0)]),
    ([KindOfWork.ALL_KEYS_LOST], "", [(KindOfWork.IGNITION_LOCK, 0.5), (KindOfWork.LOCK_OUT, 3.0)]),
    ([], "", [(KindOfWork.DOOR_LOCK, 0.75), (KindOfWork.DUPLICATE_KEY, 2.25)]),
]


def tell(rng: Random, cast: Cast, customers: list[Customer], vehicles: list[Vehicle]) -> None:
    now = cast.now.replace(second=0, microsecond=0)
    for n, (done, current, later) in enumerate(DAY):
        _done(rng, cast, n, done, now, customers, vehicles)
        if current:
            _current(rng, cast, n, current, now, customers, vehicles)
        for kind, hours in later:
            _book(rng, cast, n, _call(rng, kind, now - timedelta(hours=1), customers, vehicles, hours), now, hours)
    _waiting(rng, cast, now, customers, vehicles)


def _call(
    rng: Random, kind: KindOfWork, at: datetime, customers: list[Customer], vehicles: list[Vehicle], wait_hours: float
) -> Call:
    wait = timedelta(hours=wait_hours)
    if kind in dict(story.HOUSE_WORK):
        return Call(at, rng.choice(customers), None, kind, wait)
    vehicle = rng.choice([each for each in vehicles if each.make != "Elvara" or kind != KindOfWork.ALL_KEYS_LOST])
    assert vehicle.customer
    return Call(at, vehicle.customer, vehicle, kind, wait)


def _done(
    rng: Random,
    cast: Cast,
    n: int,
    kinds: list[KindOfWork],
    now: datetime,
    customers: list[Customer],
    vehicles: list[Vehicle],
) -> None:
    """Visits that are over, packed back from forty minutes ago, so that they never reach into the present."""
    end = now - timedelta(minutes=75)
    for kind in reversed(kinds):
        person = cast.technicians[n]
        call = _call(rng, kind, end, customers, vehicles, 0.75)
        on_site = story.minutes_on_site(rng, call, person)
        call.at = end - timedelta(minutes=on_site + 90)
        job = story.take(rng, cast, call)
        drive = drive_minutes(rng, job)
        start = end - timedelta(minutes=on_site + drive)
        visit = jobs.book_visit(job, actor=cast.office[0], technician=person, start=start, end=end, at=call.at)
        story.work(rng, cast, job, call, visit, start=start, drive=drive, on_site=on_site)
        if kind != KindOfWork.PROGRAMMING:
            story.bill(rng, cast, job, at=end)
        end = start - timedelta(minutes=10)


def _current(
    rng: Random, cast: Cast, n: int, state: str, now: datetime, customers: list[Customer], vehicles: list[Vehicle]
) -> None:
    person = cast.technicians[n]
    kind = KindOfWork.ALL_KEYS_LOST if state == "on_site" else KindOfWork.LOCK_OUT
    job = story.take(rng, cast, _call(rng, kind, now - timedelta(minutes=80), customers, vehicles, 0.75))
    start = now - timedelta(minutes=45 if state == "on_site" else 8)
    end = now + timedelta(minutes=50 if state == "on_site" else 40)
    visit = jobs.book_visit(job, actor=cast.office[1], technician=person, start=start, end=end, at=job.called_at)
    jobs.set_off(visit, actor=person, at=start)
    if state == "on_site":
        visit = jobs.arrive(visit, actor=person, at=now - timedelta(minutes=22))
        _half_read(cast, visit, now)


def _half_read(cast: Cast, visit: Visit, now: datetime) -> None:
    """The one on site has checked who asks and read the door's lock; two cuts of the ignition are still unknown."""
    job = visit.job
    assert job.vehicle
    authority.check(job, visit, cast.owner, at=now - timedelta(minutes=20))
    add_demo_key_work(
        visit,
        make=job.vehicle.make,
        blank=cast.items[story.KEY_OF[job.vehicle.make][0]],
        place=cast.vans[visit.technician_id],
        at=now - timedelta(minutes=18),
    )


def _book(rng: Random, cast: Cast, n: int, call: Call, now: datetime, hours: float) -> None:
    job = story.take(rng, cast, call)
    start = _quarter(now + timedelta(hours=hours))
    end = start + timedelta(minutes=_to_quarter(job.expected_minutes))
    jobs.book_visit(
        job,
        actor=cast.office[0],
        technician=cast.technicians[n],
        start=start,
        end=end,
        at=call.at + timedelta(minutes=4),
    )


def _quarter(at: datetime) -> datetime:
    return at.replace(minute=at.minute - at.minute % 15)


def _to_quarter(minutes: int) -> int:
    return max(30, -(-minutes // 15) * 15)


def _waiting(rng: Random, cast: Cast, now: datetime, customers: list[Customer], vehicles: list[Vehicle]) -> None:
    """Calls nobody is booked for yet; the last is the one that goes to the top."""
    for kind, minutes_ago, wait_hours in (
        (KindOfWork.DUPLICATE_KEY, 95, 4.0),
        (KindOfWork.ALL_KEYS_LOST, 40, 2.0),
        (KindOfWork.DOOR_LOCK, 25, 1.5),
        (KindOfWork.PROGRAMMING, 12, 3.0),
    ):
        call = _call(rng, kind, now - timedelta(minutes=minutes_ago), customers, vehicles, wait_hours)
        story.take(rng, cast, call)
    urgent = _call(rng, KindOfWork.LOCK_OUT, now - timedelta(minutes=3), customers, vehicles, 0.25)
    job: Job = story.take(rng, cast, urgent, locked_in=LockedIn.ANIMAL)
    jobs.change_job(job, actor=cast.office[0], description="Keys on the seat, dog in the back, windows up.")
    _half_typed(cast, now)


def _half_typed(cast: Cast, now: datetime) -> None:
    """A call whose line dropped in the middle."""
    jobs.keep_draft(
        UUID("5d0c2f0e-6f1b-4a55-9d0a-2f6f4a1c7b11"),
        actor=cast.office[1],
        typed={
            "phone": "902 555 0188",
            "caller_name": "Somebody from the ferry",
            "description": "Key broke, line dropped",
        },
    )
