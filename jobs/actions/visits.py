"""Booking: which technician, when. PostgreSQL decides who came first."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone

from jobs.actions.base import lock_job, lock_visit, record
from jobs.errors import AlreadyBooked, WrongState
from jobs.models import EventKind, Job, Visit
from jobs.rules import check_span
from jobs.states import MOVABLE_VISITS, JobState, VisitState
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
    _check_technician(technician)
    locked = lock_job(job)
    if locked.state != JobState.WAITING:
        raise WrongState(f"Job {locked.number} is already {locked.get_state_display().lower()}.")
    visit = Visit(job=locked, technician=technician, during=DateTimeTZRange(start, end))
    _save_or_refuse(visit)
    locked.state = JobState.BOOKED
    locked.save(update_fields=["state"])
    record(locked, EventKind.BOOKED, actor=actor, at=at, visit=visit, details=_place(visit))
    return visit


@transaction.atomic
def move_visit(visit: Visit, *, actor: Person | None, technician: Person, start: datetime, end: datetime) -> Visit:
    """Moves or lengthens a visit that has not set off."""
    check_span(start, end)
    _check_technician(technician)
    locked = lock_visit(visit)
    _check_movable(locked)
    before = _place(locked)
    locked.technician, locked.during = technician, DateTimeTZRange(start, end)
    _save_or_refuse(locked)
    record(locked.job, EventKind.MOVED, actor=actor, visit=locked, details={"before": before, **_place(locked)})
    return locked


@transaction.atomic
def unbook_visit(visit: Visit, *, actor: Person | None) -> Job:
    """Takes a visit out of the diary; its job waits again."""
    locked = lock_visit(visit)
    _check_movable(locked)
    locked.state = VisitState.CALLED_OFF
    locked.save(update_fields=["state"])
    locked.job.state = JobState.WAITING
    locked.job.save(update_fields=["state"])
    record(locked.job, EventKind.UNBOOKED, actor=actor, visit=locked, details=_place(locked))
    return locked.job


def _check_technician(technician: Person) -> None:
    if not (technician.is_technician and technician.is_active):
        raise Refused(f"{technician.name} is not a technician at work here.", field="technician")


def _check_movable(visit: Visit) -> None:
    if visit.state not in MOVABLE_VISITS:
        raise WrongState(f"This visit is already {visit.get_state_display().lower()}.")


def _save_or_refuse(visit: Visit) -> None:
    """Saves, in a savepoint of its own; the exclusion constraint of the table settles a race."""
    try:
        with transaction.atomic():
            visit.save()
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
    span = " to ".join(f"{timezone.localtime(time):%H:%M}" for time in (there.starts_at, there.ends_at))
    return f"{visit.technician.name} already has job {there.job.number} from {span}. Nothing was changed."


def _place(visit: Visit) -> dict[str, str]:
    return {
        "technician": visit.technician.name,
        "start": visit.starts_at.isoformat(),
        "end": visit.ends_at.isoformat(),
    }
