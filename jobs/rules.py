"""What jobs allow, as plain functions. No I/O."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from jobs.states import VisitState
from shop.errors import Refused

MINUTE = timedelta(minutes=1)
LONGEST_VISIT = timedelta(hours=16)
SHORTEST_VISIT = timedelta(minutes=5)


def check_span(start: datetime, end: datetime) -> None:
    """Refuses a booked time that is empty, backwards or longer than a long day."""
    if end <= start:
        raise Refused("The end must come after the start.", field="end")
    if end - start < SHORTEST_VISIT:
        raise Refused("A visit takes at least five minutes.", field="end")
    if end - start > LONGEST_VISIT:
        raise Refused("A visit takes at most sixteen hours; book a second one.", field="end")


def check_times(set_off_at: datetime | None, arrived_at: datetime | None, finished_at: datetime | None) -> None:
    """Refuses real times that are out of order: set off, arrive, finish."""
    if set_off_at and arrived_at and arrived_at < set_off_at:
        raise Refused("Arrival is before setting off.", field="arrived_at")
    if arrived_at and finished_at and finished_at < arrived_at:
        raise Refused("The finish is before the arrival.", field="finished_at")


class Missing(StrEnum):
    """What a finished visit usually has and this one lacks."""

    PARTS = "parts"
    VIN = "vin"
    WORDS = "words"
    SET_OFF = "set_off"


@dataclass(frozen=True)
class Lack:
    """One thing missing before the finish; `must` tells whether it stops the finish or is only asked."""

    what: Missing
    words: str
    must: bool = False


def missing_to_finish(
    *, has_vehicle: bool, vin: str, set_off_at: datetime | None, uses_parts: bool, has_parts: bool, has_words: bool
) -> list[Lack]:
    """What to ask the technician before a visit is finished, in the order in which it is asked."""
    lacks = []
    if uses_parts and not has_parts:
        lacks.append(Lack(Missing.PARTS, "No blank or part is booked on this job. Was nothing used?", must=True))
    if has_vehicle and not vin:
        lacks.append(Lack(Missing.VIN, "The VIN is not recorded. Read it off the vehicle."))
    if not has_words:
        lacks.append(Lack(Missing.WORDS, "Nothing is noted of what was done."))
    if set_off_at is None:
        lacks.append(Lack(Missing.SET_OFF, "No time of setting off is recorded, so the drive is not counted."))
    return lacks


@dataclass(frozen=True, slots=True)
class Timing:
    """One visit as far as its times go: as booked, as it really went so far, and the drive to it."""

    state: str
    starts_at: datetime
    ends_at: datetime
    drive: timedelta = timedelta()
    set_off_at: datetime | None = None
    arrived_at: datetime | None = None
    finished_at: datetime | None = None


def expected_arrival(visit: Timing, *, free_at: datetime | None, now: datetime) -> datetime:
    """When the technician is there, as far as can be told.

    Whoever arrived, arrived. Whoever is on the way needs the drive from when they set off, and is not there before
    now. A booked visit begins when it was booked, unless that cannot be reached: the technician sets off when the
    visit before ends (`free_at`), not before now, and then drives.
    """
    if visit.arrived_at:
        return visit.arrived_at
    if visit.set_off_at:
        return max(visit.set_off_at + visit.drive, now)
    leaves = max(free_at, now) if free_at else now
    return max(visit.starts_at, leaves + visit.drive)


def expected_end(visit: Timing, *, arrival: datetime, now: datetime) -> datetime:
    """When the technician is free again: as long after the arrival as was booked, not before now while it is open."""
    if visit.finished_at:
        return visit.finished_at
    if visit.state == VisitState.FINISHED:
        return visit.ends_at
    return max(arrival + (visit.ends_at - visit.starts_at), now)


def minutes_late(arrival: datetime, promise_until: datetime | None) -> int:
    """By how many minutes an arrival misses the end of the promise, begun ones counted whole; 0 when it is kept."""
    if promise_until is None or arrival <= promise_until:
        return 0
    return -(-(arrival - promise_until) // MINUTE)


def minutes_overdue(visit: Timing, *, now: datetime) -> int:
    """Minutes since a booked technician should have set off to be there at the booked start; 0 when not yet."""
    if visit.state != VisitState.BOOKED:
        return 0
    return max(0, (now - (visit.starts_at - visit.drive)) // MINUTE)
