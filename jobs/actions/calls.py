"""From a call to a job, and the end of a job that is not worked."""

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from jobs.actions.base import lock_job, record
from jobs.errors import WrongState
from jobs.estimates import estimate_for
from jobs.models import CallDraft, EventKind, Job
from jobs.states import CLOSED_UNDONE, OPEN_JOBS, JobState, KindOfWork, LockedIn, VisitState
from shop.actions import next_number
from shop.customers.models import Customer
from shop.errors import Refused
from shop.staff.models import Person
from vehicles.models import Vehicle

CLOSING_EVENTS = {
    JobState.CALLED_OFF: EventKind.CALLED_OFF,
    JobState.TURNED_AWAY: EventKind.TURNED_AWAY,
    JobState.NO_ANSWER: EventKind.NO_ANSWER,
}


@transaction.atomic
def keep_draft(key: UUID, *, actor: Person, typed: dict[str, Any]) -> CallDraft:
    """Keeps what was typed of a call so far, as typed; the last keeping wins."""
    draft, _ = CallDraft.objects.update_or_create(
        key=key,
        defaults={"typed": typed, "changed_at": timezone.now()},
        create_defaults={"typed": typed, "started_by": actor},
    )
    return draft


def drop_draft(key: UUID, *, actor: Person) -> None:
    """Forgets a draft: its call was taken, or the office threw it away."""
    CallDraft.objects.filter(key=key).delete()


@transaction.atomic
def take_call(
    *,
    actor: Person | None,
    customer: Customer,
    kind_of_work: KindOfWork | str,
    vehicle: Vehicle | None = None,
    called_at: datetime | None = None,
    **facts: Any,
) -> Job:
    """Makes the numbered job of a call, in state waiting.

    Raises Refused when the vehicle is somebody else's, or `comeback_of` is a job that this one cannot come back after.
    """
    if vehicle and vehicle.customer_id and vehicle.customer_id != customer.pk:
        raise Refused("This vehicle belongs to another customer.", field="vehicle")
    check_comeback(facts.get("comeback_of"), customer=customer, vehicle=vehicle)
    job: Job = Job.objects.create(
        number=next_number("job"),
        customer=customer,
        vehicle=vehicle,
        kind_of_work=kind_of_work,
        called_at=called_at or timezone.now(),
        taken_by=actor,
        **facts,
    )
    words = "" if job.locked_in == LockedIn.NOBODY else f"{job.get_locked_in_display()} locked in."
    record(job, EventKind.TAKEN, actor=actor, at=job.called_at, words=words)
    return job


@transaction.atomic
def change_job(job: Job, *, actor: Person | None, **facts: Any) -> Job:
    """Changes facts of a job and records old and new of each that differs.

    The minutes to expect follow the kind of work and the vehicle, unless they are changed by hand too. Raises Refused
    for a job that this one cannot come back after.
    """
    locked = lock_job(job)
    changed = {name: value for name, value in facts.items() if getattr(locked, name) != value}
    if not changed:
        return locked
    if changed.keys() & {"comeback_of", "vehicle"}:
        first, vehicle = (changed.get(name, getattr(locked, name)) for name in ("comeback_of", "vehicle"))
        if first == locked:
            raise Refused("A job does not come back after itself.", field="comeback_of")
        check_comeback(first, customer=locked.customer, vehicle=vehicle)
    changed |= _expected_anew(locked, changed)
    details = {name: [_plain(getattr(locked, name)), _plain(value)] for name, value in changed.items()}
    for name, value in changed.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(changed))
    record(locked, EventKind.CHANGED, actor=actor, details=details)
    return locked


def check_comeback(first: Job | None, *, customer: Customer, vehicle: Vehicle | None) -> None:
    """Raises Refused when work for this customer, on this vehicle, cannot come back after the job `first`."""
    if first is None:
        return
    if first.customer_id != customer.pk:
        raise Refused(f"Job {first.number} was for another customer.", field="comeback_of")
    if first.state != JobState.FINISHED:
        raise Refused(f"Job {first.number} is not finished, so nothing comes back after it.", field="comeback_of")
    if first.vehicle_id and vehicle and first.vehicle_id != vehicle.pk:
        raise Refused(f"Job {first.number} was on another vehicle.", field="comeback_of")


def _expected_anew(job: Job, changed: dict[str, Any]) -> dict[str, Any]:
    """The minutes to expect of another kind of work or vehicle, unless somebody said how many."""
    if "expected_minutes" in changed or not changed.keys() & {"kind_of_work", "vehicle"}:
        return {}
    vehicle = changed.get("vehicle", job.vehicle)
    estimate = estimate_for(changed.get("kind_of_work", job.kind_of_work), vehicle=vehicle)
    return {"expected_minutes": estimate.minutes} if estimate and estimate.minutes != job.expected_minutes else {}


def _plain(value: Any) -> Any:
    """A value as it goes into a JSON record."""
    if isinstance(value, Model):
        return str(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


@transaction.atomic
def close_job(job: Job, *, actor: Person | None, state: JobState | str, reason: str, at: datetime | None = None) -> Job:
    """Ends an open job without its work: called off, turned away or no answer. A reason is demanded."""
    state = JobState(state)
    if state not in CLOSED_UNDONE:
        raise WrongState("A job is closed as called off, turned away or no answer.", field="state")
    if not reason.strip():
        raise Refused("Say why, in a few words.", field="reason")
    locked = lock_job(job)
    if locked.state not in OPEN_JOBS:
        raise WrongState(f"Job {locked.number} is already {locked.get_state_display().lower()}.")
    for visit in locked.visits.exclude(state__in=[VisitState.FINISHED, VisitState.CALLED_OFF]):
        visit.state = VisitState.CALLED_OFF
        visit.save(update_fields=["state"])
    locked.state = state
    locked.closed_reason = reason.strip()
    locked.save(update_fields=["state", "closed_reason"])
    record(locked, CLOSING_EVENTS[state], actor=actor, at=at, words=reason.strip())
    return locked


@transaction.atomic
def reopen_job(job: Job, *, actor: Person | None, reason: str = "") -> Job:
    """Puts a job that was closed without its work back among the waiting ones."""
    locked = lock_job(job)
    if locked.state not in CLOSED_UNDONE:
        raise WrongState(f"Job {locked.number} was not closed.")
    locked.state = JobState.WAITING
    locked.closed_reason = ""
    locked.save(update_fields=["state", "closed_reason"])
    record(locked, EventKind.REOPENED, actor=actor, words=reason)
    return locked
