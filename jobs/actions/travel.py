"""A technician's steps through a visit: set off, arrive, finish; and times put right afterwards."""

from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone

from jobs.actions.base import lock_visit, record
from jobs.authority import lacks_to_finish
from jobs.errors import AuthorityLacks, MovedMeanwhile, WrongState
from jobs.models import EventKind, Visit
from jobs.record_rules import Fact
from jobs.rules import SHORTEST_VISIT, check_times
from jobs.states import VISIT_MOVES, JobState, VisitState
from shop.errors import Refused
from shop.models import Shop
from shop.staff.models import Person

# A phone's clock may run a little ahead of ours.
CLOCK_SLACK = timedelta(minutes=2)


@transaction.atomic
def set_off(
    visit: Visit, *, actor: Person | None, at: datetime | None = None, seen_start: datetime | None = None
) -> Visit:
    """The van moves: the visit and its job are on the way.

    `seen_start` is the booked start that the technician saw. Raises MovedMeanwhile when the office moved it since.
    """
    locked = _step(visit, VisitState.ON_THE_WAY, seen_start)
    locked.set_off_at = at or timezone.now()
    return _keep(locked, EventKind.SET_OFF, JobState.ON_THE_WAY, actor, locked.set_off_at, "set_off_at")


@transaction.atomic
def turn_back(visit: Visit, *, actor: Person | None, at: datetime | None = None) -> Visit:
    """Undoes "set off": the visit is booked again."""
    locked = _step(visit, VisitState.BOOKED)
    locked.set_off_at = None
    moment = at or timezone.now()
    return _keep(locked, EventKind.BOOKED, JobState.BOOKED, actor, moment, "set_off_at", words="Turned back.")


@transaction.atomic
def arrive(
    visit: Visit, *, actor: Person | None, at: datetime | None = None, seen_start: datetime | None = None
) -> Visit:
    """On site. Allowed without "set off" before, since that tap is often forgotten. `seen_start` as in `set_off`."""
    locked = _step(visit, VisitState.ON_SITE, seen_start)
    locked.arrived_at = at or timezone.now()
    check_times(locked.set_off_at, locked.arrived_at, None)
    return _keep(locked, EventKind.ARRIVED, JobState.ON_SITE, actor, locked.arrived_at, "arrived_at")


@transaction.atomic
def finish_visit(
    visit: Visit,
    *,
    actor: Person | None,
    at: datetime | None = None,
    needs_another_visit: bool = False,
    words: str = "",
    drive_km: Decimal | None = None,
    known: frozenset[Fact] = frozenset(),
) -> Visit:
    """Ends a visit. The job is finished with it, or waits again when another visit is needed.

    Booked time that was not needed is given back to the diary. What an hour of the technician and a kilometre cost the
    shop now is kept with the visit. `drive_km` is what was driven for it, there and back.
    Raises AuthorityLacks while the record rule still wants something of the job; `known` are facts that only a floor
    above can see.
    """
    locked = _step(visit, VisitState.FINISHED)
    if not needs_another_visit and (lacks := lacks_to_finish(locked.job, known=known)):
        raise AuthorityLacks(lacks)
    locked.finished_at = at or timezone.now()
    check_times(locked.set_off_at, locked.arrived_at, locked.finished_at)
    locked.drive_km = drive_km if drive_km is not None else locked.drive_km
    locked.hourly_cost = locked.technician.hourly_cost
    locked.travel_cost_per_km = Shop.current().travel_cost_per_km
    _free_unneeded_time(locked)
    job = locked.job
    job_state = JobState.WAITING if needs_another_visit else JobState.FINISHED
    job.finished_at = None if needs_another_visit else locked.finished_at
    job.state = job_state
    job.save(update_fields=["finished_at", "state"])
    words = words or ("Another visit is needed." if needs_another_visit else "")
    fields = ("finished_at", "during", "drive_km", "hourly_cost", "travel_cost_per_km")
    return _keep(locked, EventKind.FINISHED, job_state, actor, locked.finished_at, *fields, words=words)


@transaction.atomic
def correct_times(
    visit: Visit,
    *,
    actor: Person | None,
    set_off_at: datetime | None,
    arrived_at: datetime | None,
    finished_at: datetime | None,
    reason: str = "",
) -> Visit:
    """Puts right when a visit set off, arrived and finished; old and new are recorded.

    Only times that its state has already reached can be given. People type whole minutes: a time given as the minute
    that is kept stays as it is. Raises Refused when they are out of order or still to come.
    """
    locked = lock_visit(visit)
    names = ("set_off_at", "arrived_at", "finished_at")
    new = dict(zip(names, (set_off_at, arrived_at, finished_at), strict=True))
    _check_reached(locked, set_off_at, arrived_at, finished_at)
    _check_past(new)
    check_times(set_off_at, arrived_at, finished_at)
    old = {name: getattr(locked, name) for name in names}
    new = _with_seconds(old, new)
    if old == new:
        return locked
    for name, value in new.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(names))
    if locked.job.state == JobState.FINISHED and locked.job.finished_at == old["finished_at"]:
        locked.job.finished_at = new["finished_at"]
        locked.job.save(update_fields=["finished_at"])
    details = {name: [_iso(old[name]), _iso(new[name])] for name in names if old[name] != new[name]}
    record(locked.job, EventKind.TIMES_CORRECTED, actor=actor, visit=locked, words=reason, details=details)
    return locked


def _step(visit: Visit, to: VisitState, seen_start: datetime | None = None) -> Visit:
    locked = lock_visit(visit)
    if seen_start and locked.starts_at != seen_start:
        start, end = timezone.localtime(locked.starts_at), timezone.localtime(locked.ends_at)
        raise MovedMeanwhile(
            f"The office moved this visit to {start:%a} {start.day} {start:%b}, {start:%H:%M} to {end:%H:%M}. "
            "Nothing was changed. Tap again if you want to go on."
        )
    if to not in VISIT_MOVES[VisitState(locked.state)]:
        raise WrongState(f"This visit is {locked.get_state_display().lower()}; look at it again.")
    locked.state = to
    return locked


def _keep(
    visit: Visit,
    kind: EventKind,
    job_state: JobState,
    actor: Person | None,
    at: datetime,
    *fields: str,
    words: str = "",
) -> Visit:
    visit.save(update_fields=["state", *fields])
    visit.job.state = job_state
    visit.job.save(update_fields=["state"])
    record(visit.job, kind, actor=actor, at=at, visit=visit, words=words)
    return visit


def _free_unneeded_time(visit: Visit) -> None:
    """Shortens the booked time to the finish; a longer visit keeps its booking, one done before it the least of it."""
    least = visit.starts_at + SHORTEST_VISIT
    ends = max(visit.finished_at, least) if visit.finished_at else visit.ends_at
    if ends < visit.ends_at:
        visit.during = DateTimeTZRange(visit.starts_at, ends)


def _check_reached(
    visit: Visit, set_off_at: datetime | None, arrived_at: datetime | None, finished_at: datetime | None
) -> None:
    """A state that was reached has its time, one that was not has none; only setting off may be forgotten."""
    is_finished = visit.state == VisitState.FINISHED
    if bool(finished_at) != is_finished:
        raise WrongState(
            "A finished visit has a time of finish." if is_finished else "This visit is not finished yet.",
            field="finished_at",
        )
    is_there = visit.state in {VisitState.ON_SITE, VisitState.FINISHED}
    if arrived_at and not is_there:
        raise WrongState("This visit has not arrived yet.", field="arrived_at")
    if is_there and not arrived_at:
        raise WrongState("Who is on site has a time of arrival.", field="arrived_at")
    if bool(set_off_at) != (visit.state == VisitState.ON_THE_WAY) and not is_there:
        words = "has not set off yet" if set_off_at else "is on the way, so it has set off"
        raise WrongState(f"This visit {words}.", field="set_off_at")


def _with_seconds(old: dict[str, datetime | None], new: dict[str, datetime | None]) -> dict[str, datetime | None]:
    """The new times with the seconds of those that were left alone, unless that would put them out of order."""
    kept = {name: old[name] if at == _minute(old[name]) else at for name, at in new.items()}
    times = [at for at in kept.values() if at]
    return kept if times == sorted(times) else new


def _minute(at: datetime | None) -> datetime | None:
    return at.replace(second=0, microsecond=0) if at else None


def _check_past(times: dict[str, datetime | None]) -> None:
    latest = timezone.now() + CLOCK_SLACK
    for name, at in times.items():
        if at and at > latest:
            raise Refused("That is still to come.", field=name)


def _iso(value: datetime | None) -> str | None:
    return value.isoformat() if value else None
