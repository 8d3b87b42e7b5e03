"""Steps that every action on jobs shares: lock, record."""

from datetime import datetime
from typing import Any

from django.utils import timezone

from jobs.models import EventKind, Job, JobEvent, Visit
from shop.live.telling import tell_screens
from shop.staff.models import Person


def lock_job(job: Job) -> Job:
    """The same job, fresh and locked; actions on one job wait for each other on this row."""
    locked: Job = Job.objects.select_for_update(of=("self",)).get(pk=job.pk)
    return locked


def lock_visit(visit: Visit) -> Visit:
    """The same visit, fresh, with its job locked first, so that two actions never lock in opposite order."""
    job = lock_job(visit.job)
    locked: Visit = Visit.objects.select_related("technician").get(pk=visit.pk)
    locked.job = job
    return locked


def record(
    job: Job,
    kind: EventKind,
    *,
    actor: Person | None,
    at: datetime | None = None,
    visit: Visit | None = None,
    words: str = "",
    details: dict[str, Any] | None = None,
) -> JobEvent:
    """Writes one event and tells open screens of it. `at` is when it happened, now unless told."""
    now = timezone.now()
    tell_screens("jobs", job=job.number, people=_concerned(job, visit, details or {}))
    return JobEvent.objects.create(
        job=job, visit=visit, kind=kind, at=at or now, recorded_at=now, by=actor, words=words, details=details or {}
    )


def _concerned(job: Job, visit: Visit | None, details: dict[str, Any]) -> list[int]:
    """Ids of the technicians whose round this touches: who has the visit, who had it, or whoever is on the job."""
    if visit is None:
        return sorted(set(job.visits.values_list("technician_id", flat=True)))
    before = details.get("before", {}).get("technician_id")
    return sorted({visit.technician_id, before or visit.technician_id})
