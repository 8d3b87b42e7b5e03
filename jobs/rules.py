"""What jobs allow, as plain functions. No I/O."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from jobs.states import CAR_WORK, MAKES_KEYS, VisitState
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


OLDEST_YEARS = 125


def check_born_on(born_on: date | None, *, today: date) -> None:
    """Refuses a date of birth that is still to come, or longer ago than anybody lives."""
    if born_on is None:
        return
    if born_on > today:
        raise Refused("This date is still to come. Look at the document again.", field="born_on")
    if today.year - born_on.year > OLDEST_YEARS:
        raise Refused("Check the year of birth.", field="born_on")


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


class Standing(StrEnum):
    """How the check of a job stands, as far as the rules ask."""

    NONE = "none"
    PASSED = "passed"
    EXCEPTED = "excepted"
    ASKED = "asked"
    DANGER = "danger"
    REFUSED = "refused"


@dataclass(frozen=True)
class Verdict:
    """Whether something may be, and if not, why, in words fit to show."""

    is_so: bool
    words: str = ""


@dataclass(frozen=True)
class Hand:
    """Who stands before the guarded data of a job: roles, whether the job is theirs and open, how its check stands.

    `at_work_stands` is how the check stands of the job at hand, where the data lies on an earlier job of the same
    vehicle; None when there is no such job.
    """

    roles: frozenset[str]
    is_own: bool
    is_open: bool
    standing: Standing
    at_work_stands: Standing | None = None


# Papers and marks of the person who asked, in contrast to the data of a key.
IDENTITY_MODELS = frozenset({"jobs.authoritycheck", "jobs.authorityphoto"})
OPENS_KEYS = frozenset({Standing.PASSED, Standing.EXCEPTED})
LETS_FINISH = OPENS_KEYS | {Standing.DANGER}


def thing_of(*, kind_of_work: str, has_vehicle: bool) -> str:
    """ "vehicle" or "building": what a job is about."""
    return "vehicle" if has_vehicle or kind_of_work in CAR_WORK else "building"


def makes_vehicle_key(*, kind_of_work: str, has_vehicle: bool) -> bool:
    """Whether the job as a rule ends with a key of a vehicle."""
    return kind_of_work in MAKES_KEYS and thing_of(kind_of_work=kind_of_work, has_vehicle=has_vehicle) == "vehicle"


def may_open_key_data(hand: Hand) -> Verdict:
    """Whether codes, bittings and PINs of a job may be opened: its check was passed, or the owner made an exception.

    The technician opens them on an own job, or on an earlier job of the vehicle at hand; office and owner for a later
    duplicate. All give a reason, which is asked elsewhere.
    """
    if not hand.roles & {"owner", "office"} and not hand.is_own and hand.at_work_stands is None:
        return Verdict(False, "This job is not yours.")
    if hand.at_work_stands is not None and hand.at_work_stands not in OPENS_KEYS:
        return Verdict(False, "The check of the job at hand is not passed yet. No check, no code.")
    if hand.standing not in OPENS_KEYS and hand.at_work_stands is None:
        return Verdict(False, "The check of this job is not passed. No check, no code.")
    return Verdict(True)


def may_open_identity(hand: Hand) -> Verdict:
    """Whether birth date, document, signature and photos of papers may be opened: by the owner, and by the technician
    on an own job while it is open or when its check was passed."""
    if "owner" in hand.roles:
        return Verdict(True)
    if not hand.is_own:
        return Verdict(False, "Identity papers are opened by the owner, and by the technician of the job.")
    if not hand.is_open and hand.standing not in OPENS_KEYS:
        return Verdict(False, "This job is closed. The owner can open its papers.")
    return Verdict(True)


def may_open_guarded(hand: Hand, kinds: Collection[str]) -> Verdict:
    """Whether all these columns ("app.model.field") may be opened."""
    is_identity = [kind.rpartition(".")[0] in IDENTITY_MODELS for kind in kinds]
    if any(is_identity) and not (verdict := may_open_identity(hand)).is_so:
        return verdict
    return Verdict(True) if all(is_identity) else may_open_key_data(hand)
