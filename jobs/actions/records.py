"""Notes and photos."""

from datetime import datetime

from django.core.files.base import File
from django.db import transaction

from jobs.actions.base import record
from jobs.models import EventKind, Job, JobEvent, Photo, Visit
from shop.errors import Refused
from shop.staff.models import Person


@transaction.atomic
def add_note(
    job: Job, *, actor: Person | None, words: str, visit: Visit | None = None, at: datetime | None = None
) -> JobEvent:
    """Writes a note on a job."""
    if not words.strip():
        raise Refused("Write the note first.", field="words")
    return record(job, EventKind.NOTE, actor=actor, at=at, visit=visit, words=words.strip())


@transaction.atomic
def add_photo(job: Job, *, actor: Person | None, file: "File[bytes]", words: str = "") -> Photo:
    """Keeps a photo with a job. The caller has checked that it is a picture (jobs.forms)."""
    return Photo.objects.create(job=job, file=file, words=words.strip(), taken_by=actor)
