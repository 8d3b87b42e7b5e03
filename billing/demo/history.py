"""Ninety days of believable work: busy mornings, night lock-outs, comebacks, blanks spoiled, stock bought in."""

from collections import defaultdict
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random

from django.utils import timezone

from billing.demo import story
from billing.demo.base import Cast
from billing.demo.story import Call
from jobs import actions as jobs
from jobs.models import Job
from jobs.states import KindOfWork
from shop import geo
from shop.customers.models import Customer
from shop.models import Shop
from shop.staff.models import Person
from shop.stock.actions import move, receive, spoil
from shop.stock.models import Balance, SpoiledReason
from vehicles.models import Vehicle

DAYS = 90


class Diary:
    """Who is free when, while the story is told."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.free: dict[int, datetime] = {}

    def pick(self, call: Call) -> tuple[Person, datetime]:
        """The technician who can start first, and when; at night it is whoever is on call that week."""
        soonest = call.at + call.wait - timedelta(minutes=25)
        hour = timezone.localtime(soonest).hour
        crew = self.cast.technicians
        if not 7 <= hour < 19:
            crew = [crew[soonest.isocalendar().week % len(crew)]]
        person = min(crew, key=lambda each: (max(self.free.get(each.pk, soonest), soonest), each.pk))
        return person, max(self.free.get(person.pk, soonest), soonest)


def tell(rng: Random, cast: Cast, customers: list[Customer], vehicles: list[Vehicle]) -> None:
    """Works through the days up to yesterday."""
    diary = Diary(cast)
    comebacks: defaultdict[int, list[Call]] = defaultdict(list)
    for ago in range(DAYS, 0, -1):
        day = timezone.localdate(cast.now) - timedelta(days=ago)
        calls = [story.draw_call(rng, at, customers, vehicles) for at in _call_times(rng, day)]
        calls += comebacks.pop(ago, [])
        for call in sorted(calls, key=lambda each: each.at):
            job = _one(rng, cast, diary, call)
            if job and call.vehicle and call.comeback_of is None and rng.random() < 0.035:
                later = max(1, ago - rng.randint(1, 5))
                at = call.at + timedelta(days=ago - later)
                job.refresh_from_db()
                back = Call(at, call.customer, call.vehicle, KindOfWork.PROGRAMMING, timedelta(minutes=90), job)
                if later < ago:
                    comebacks[later].append(back)
        if ago == 23:
            _spoil_the_dear_one(cast, day)
        if ago % 6 == 0:
            _buy_in(rng, cast, _local(day, 8, 15))


def _call_times(rng: Random, day: date) -> list[datetime]:
    """When the phone rings: more before nine than the rest of the day, some in the evening, now and then at night."""
    weekend = day.weekday() >= 5
    count = max(2, round(rng.gauss(4 if weekend else 7.5, 1.6)))
    hours = list(range(24))
    weights = [1, 0.6, 0.4, 0.2, 0.2, 0.4, 2, 7, 8, 6, 5, 5, 5, 5, 5, 5, 6, 6, 4, 3, 2.5, 2, 2, 1.5]
    drawn = rng.choices(hours, weights, k=count)
    return sorted(_local(day, hour, rng.randrange(60)) for hour in drawn)


def _local(day: date, hour: int, minute: int) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(hour, minute)))


def _one(rng: Random, cast: Cast, diary: Diary, call: Call) -> Job | None:
    """One job told whole; None when it came to nothing."""
    job = story.take(rng, cast, call)
    if rng.random() < 0.05:
        story.close(rng, cast, job, call.at + timedelta(minutes=rng.randint(10, 90)))
        return None
    person, start = diary.pick(call)
    drive = drive_minutes(rng, job)
    on_site = story.minutes_on_site(rng, call, person)
    end = start + timedelta(minutes=drive + on_site)
    visit = jobs.book_visit(job, actor=cast.office[0], technician=person, start=start, end=end, at=call.at)
    story.work(rng, cast, job, call, visit, start=start, drive=drive, on_site=on_site)
    diary.free[person.pk] = end + timedelta(minutes=5)
    story.bill(rng, cast, job, at=end)
    return job


def drive_minutes(rng: Random, job: Job) -> int:
    """Minutes from the shop at town speed, with traffic."""
    shop = Shop.current()
    assert shop.latitude and shop.longitude and job.latitude and job.longitude
    home, place = geo.Point(shop.latitude, shop.longitude), geo.Point(job.latitude, job.longitude)
    usual = geo.drive_minutes(home, place, speed_kmh=shop.drive_speed_kmh)
    return max(4, round(usual * rng.lognormvariate(0.05, 0.25)))


def _spoil_the_dear_one(cast: Cast, day: date) -> None:
    """The keyless fob that was dropped in the harbour with the van's door open."""
    person = cast.technicians[1]
    spoil(
        cast.items["F-450"], actor=person, place=cast.vans[person.pk], quantity=1, reason=SpoiledReason.DAMAGED,
        at=_local(day, 15, 40), note="Dropped in the harbour",
    )  # fmt: skip


def _buy_in(rng: Random, cast: Cast, at: datetime) -> None:
    """Fills the shelf and the vans again; prices creep up, so that the cost layers differ."""
    assert cast.shelf
    held = {(row.item_id, row.place_id): row.quantity for row in Balance.objects.all()}
    for item in cast.items.values():
        item.refresh_from_db(fields=["last_cost"])
        wanted = 2 if item.last_cost > 30 else 8
        short = {van: wanted - held.get((item.pk, van.pk), 0) for van in cast.vans.values()}
        need = sum(max(0, count) for count in short.values())
        if need and held.get((item.pk, cast.shelf.pk), 0) < need + wanted:
            cost = (item.last_cost * Decimal(str(round(rng.uniform(0.99, 1.035), 3)))).quantize(Decimal("0.01"))
            receive(item, actor=cast.owner, place=cast.shelf, quantity=need + 2 * wanted, unit_cost=cost, at=at)
        for van, count in short.items():
            if count > wanted // 2:
                move(item, actor=cast.owner, origin=cast.shelf, target=van, quantity=count, at=at)
