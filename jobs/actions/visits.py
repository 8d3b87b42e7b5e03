"""Booking: which technician, when. PostgreSQL decides who came first."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone

from jobs.actions.base import lock_job, lock_visit, record
from jobs.errors import AlreadyBooked, WrongState
from jobs.models import EventKind, Job, Visit
from jobs.rules import check_span
from jobs.states import MOVABLE_VISITS, UNDER_WAY, JobState, VisitState
from shop.errors import Refused
from shop.staff.models import Person


@transaction.atomic
def book_visit(
    job: Job, *, actor: Person | None, technician: Person, start: datetime, end: datetime, at: datetime | None = None
) -> Visit:
    """Books a waiting job for a technician from `start` to `end`.

    Raises WrongState when the job no longer waits, AlreadyBooked when the technician has another visit in that time.
    """
    check_span(start, end)
    locked = lock_job(job)
    if locked.state != JobState.WAITING:
        raise WrongState(f"Job {locked.number} is already {locked.get_state_display().lower()}.")
    visit = Visit(job=locked, technician=_lock_technician(technician), during=DateTimeTZRange(start, end))
    _save_or_refuse(visit)
    locked.state = JobState.BOOKED
    locked.save(update_fields=["state"])
    record(locked, EventKind.BOOKED, actor=actor, at=at, visit=visit, details=_place(visit))
    return visit


@transaction.atomic
def move_visit(
    visit: Visit,
    *,
    actor: Person | None,
    technician: Person,
    start: datetime,
    end: datetime,
    seen: tuple[int, datetime, datetime] | None = None,
) -> Visit:
    """Moves or lengthens a visit that has not set off; one under way can only change its end.

    `seen` is where the mover saw it (technician's id, start, end). Raises WrongState when it is no longer there or can
    no longer be moved, AlreadyBooked when the technician has another visit in that time.
    """
    check_span(start, end)
    locked = lock_visit(visit)
    _check_still_there(locked, seen)
    if locked.technician_id == technician.pk and (locked.starts_at, locked.ends_at) == (start, end):
        return locked
    _check_movable(locked, technician, start)
    before = _place(locked)
    locked.technician, locked.during = _lock_technician(technician, locked.technician), DateTimeTZRange(start, end)
    _save_or_refuse(locked)
    record(locked.job, EventKind.MOVED, actor=actor, visit=locked, details={"before": before, **_place(locked)})
    return locked


@transaction.atomic
def unbook_visit(visit: Visit, *, actor: Person | None) -> Job:
    """Takes a visit out of the diary; its job waits again."""
    locked = lock_visit(visit)
    if locked.state not in MOVABLE_VISITS:
        raise WrongState(_is_already(locked))
    locked.state = VisitState.CALLED_OFF
    locked.save(update_fields=["state"])
    locked.job.state = JobState.WAITING
    locked.job.save(update_fields=["state"])
    record(locked.job, EventKind.UNBOOKED, actor=actor, visit=locked, details=_place(locked))
    return locked.job


def _lock_technician(technician: Person, leaving: Person | None = None) -> Person:
    """The technician, fresh. Bookings of one technician wait for each other here.

    Two inserts that break an exclusion constraint in the same instant may each wait for the other until PostgreSQL
    ends one as a deadlock, which nobody could read; in a row the second one is refused with words. A visit that
    changes hands holds the technician it leaves too, in order of id, or two that swap places would do the same.
    """
    wanted = {technician.pk, (leaving or technician).pk}
    people = Person.objects.select_for_update(no_key=True).filter(pk__in=wanted).order_by("pk")
    locked: Person = {person.pk: person for person in people}[technician.pk]
    if not (locked.is_technician and locked.is_active):
        raise Refused(f"{locked.name} is not a technician at work here.", field="technician")
    return locked


def _check_still_there(visit: Visit, seen: tuple[int, datetime, datetime] | None) -> None:
    if seen and seen != (visit.technician_id, visit.starts_at, visit.ends_at):
        raise WrongState(f"Somebody moved this visit meanwhile: {_where(visit)}. It was left there; look again.")


def _check_movable(visit: Visit, technician: Person, start: datetime) -> None:
    if visit.state in MOVABLE_VISITS:
        return
    if visit.state not in UNDER_WAY:
        raise WrongState(_is_already(visit))
    if visit.technician_id != technician.pk or visit.starts_at != start:
        raise WrongState(f"{_is_already(visit)[:-1]}: only its end can change.")


def _is_already(visit: Visit) -> str:
    if visit.state == VisitState.CALLED_OFF:
        return "This visit is no longer in the diary."
    return f"This visit is already {visit.get_state_display().lower()}."


def _save_or_refuse(visit: Visit) -> None:
    """Saves, in a savepoint of its own; the exclusion constraint of the table settles a race."""
    try:
        with transaction.atomic():
            visit.save(update_fields=["technician", "during"] if visit.pk else None)
    except IntegrityError as error:
        if "visit_no_overlap" not in str(error):
            raise
        raise AlreadyBooked(_who_is_there(visit), field="start") from error


def _who_is_there(visit: Visit) -> str:
    there = (
        Visit.objects.standing()
        .exclude(pk=visit.pk)
        .filter(technician=visit.technician, during__overlap=visit.during)
        .select_related("job")
        .order_by("during")
        .first()
    )
    if there is None:
        return f"{visit.technician.name} was just booked in that time. Nothing was changed; look again."
    return f"{visit.technician.name} already has job {there.job.number} from {_span(there)}. Nothing was changed."


def _where(visit: Visit) -> str:
    return f"{visit.technician.name}, {_span(visit)}"


def _span(visit: Visit) -> str:
    return " to ".join(f"{timezone.localtime(time):%H:%M}" for time in (visit.starts_at, visit.ends_at))


def _place(visit: Visit) -> dict[str, str | int]:
    return {
        "technician": visit.technician.name,
        "technician_id": visit.technician_id,
        "start": visit.starts_at.isoformat(),
        "end": visit.ends_at.isoformat(),
    }
