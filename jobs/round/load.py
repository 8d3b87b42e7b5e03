"""Reads one technician's round: what is still to do today, what is done, and tomorrow."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone

from jobs.authority import needs_check
from jobs.day.calls import KINDS, place_words, vehicle_words
from jobs.day.columns import Travel, point_of
from jobs.day.span import MINUTE, whole_day
from jobs.day.words import late_words, window_words
from jobs.models import AuthorityCheck, Job, Visit
from jobs.round.steps import CHECK, STEPS, Step
from jobs.rules import Timing, expected_arrival, expected_end, minutes_late, minutes_overdue
from jobs.states import UNDER_WAY, LockedIn, VisitState
from shop.models import Shop
from shop.staff.models import Person

LEFT_OVER = timedelta(days=7)
LOCKED_IN = dict(LockedIn.choices)


@dataclass(slots=True)
class Stop:
    """One visit in the list. `drive` is in minutes from the stop before, 0 when it is not known."""

    visit_id: int
    number: int
    state: str
    starts_at: datetime
    kind: str
    customer: str
    vehicle: str
    plate: str
    place: str
    promise: str
    late: str
    overdue: str
    locked_in: str
    drive: int
    step: Step | None
    is_next: bool = False
    is_left_over: bool = False


@dataclass(slots=True)
class Round:
    """Today's stops still to do (the next one first marked), those done, and tomorrow's."""

    day: date
    open: list[Stop]
    done: list[Stop]
    tomorrow: list[Stop]

    @property
    def next(self) -> Stop | None:
        return next((stop for stop in self.open if stop.is_next), None)


def load_round(person: Person, *, now: datetime | None = None) -> Round:
    """The round in one query, however many visits it has."""
    now = now or timezone.now()
    zone = timezone.get_current_timezone()
    today = now.astimezone(zone).date()
    start, midnight = whole_day(today, zone)
    _, end = whole_day(today + timedelta(days=1), zone)
    rows = list(Visit.objects.own(person).on_round(start, end, left_since=start - LEFT_OVER).as_blocks())
    shop = Shop.current()
    travel = Travel(point_of(shop.latitude, shop.longitude), shop.drive_speed_kmh)
    stops = _stops([row for row in rows if row.during.lower < midnight], travel, now, day_starts=start)
    later = _stops([row for row in rows if row.during.lower >= midnight], travel, now, day_starts=start)
    still = [stop for stop in stops if stop.state != VisitState.FINISHED]
    _mark_next(still)
    _mark_check_due(still)
    return Round(today, still, [stop for stop in stops if stop.state == VisitState.FINISHED], later)


def _mark_next(stops: list[Stop]) -> None:
    """What is under way comes before what is booked; two under way, the one further on first."""
    order = [VisitState.ON_SITE, VisitState.ON_THE_WAY, VisitState.BOOKED]
    if stops:
        min(stops, key=lambda stop: (order.index(VisitState(stop.state)), stop.starts_at)).is_next = True


def _mark_check_due(stops: list[Stop]) -> None:
    """On site, the check of who may have the key comes before the finish."""
    for stop in stops:
        if stop.state == VisitState.ON_SITE:
            job = Job.objects.select_related("vehicle").get(number=stop.number)
            if needs_check(job, AuthorityCheck.objects.of(job)):
                stop.step = CHECK


def _stops(rows: Iterable[Any], travel: Travel, now: datetime, *, day_starts: datetime) -> list[Stop]:
    """Stops in order, each with the drive from the one before; the day begins at the shop."""
    stops: list[Stop] = []
    here, free_at = travel.base, None
    for row in rows:
        there = point_of(row.job__latitude, row.job__longitude)
        timing = Timing(
            row.state,
            row.during.lower,
            row.during.upper,
            travel.between(here, there) * MINUTE,
            row.set_off_at,
            row.arrived_at,
            row.finished_at,
        )
        arrival = expected_arrival(timing, free_at=free_at, now=now)
        stops.append(_stop(row, timing, arrival, now, is_left_over=row.during.upper <= day_starts))
        free_at = expected_end(timing, arrival=arrival, now=now)
        here = there or here
    return stops


def _stop(row: Any, timing: Timing, arrival: datetime, now: datetime, *, is_left_over: bool) -> Stop:
    locked_in = "" if row.job__locked_in == LockedIn.NOBODY else LOCKED_IN[row.job__locked_in]
    return Stop(
        visit_id=row.id,
        number=row.job__number,
        state=row.state,
        starts_at=row.during.lower,
        kind=KINDS[row.job__kind_of_work],
        customer=row.job__customer__name,
        vehicle=vehicle_words(row.job__vehicle__year, row.job__vehicle__make, row.job__vehicle__model, ""),
        plate=row.job__vehicle__plate or "",
        place=place_words(row.job__street, row.job__town),
        promise=promise_words(row.job__promise_from, row.job__promise_until, now),
        late=lateness(timing, arrival, row.job__promise_until),
        overdue=_overdue(timing, now),
        locked_in="" if row.state == VisitState.FINISHED else locked_in,
        drive=timing.drive // MINUTE,
        step=STEPS.get(row.state),
        is_left_over=is_left_over,
    )


def promise_words(start: datetime | None, end: datetime | None, now: datetime) -> str:
    """The promise as `14:00–15:00`, with its day when that is not today; nothing when none was made."""
    if start is None or end is None:
        return ""
    words = window_words(start, end, now=now, zone=timezone.get_current_timezone())
    return words.replace("Tomorrow", "tomorrow")


def lateness(timing: Timing, arrival: datetime, promise_until: datetime | None) -> str:
    """`12 min late`: of an arrival as it was, or as it will be when nothing changes."""
    if timing.state == VisitState.CALLED_OFF or (timing.state == VisitState.FINISHED and timing.arrived_at is None):
        return ""
    late = minutes_late(arrival, promise_until)
    return f"{late_words(late)} late" if late else ""


def _overdue(timing: Timing, now: datetime) -> str:
    minutes = 0 if timing.state in UNDER_WAY else minutes_overdue(timing, now=now)
    return f"Should have set off {late_words(minutes)} ago" if minutes else ""
