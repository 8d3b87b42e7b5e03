"""Notes, photos, and the VIN read off the vehicle."""

from datetime import datetime

from django.core.files.base import File
from django.db import transaction

from jobs.actions.base import lock_job, record
from jobs.models import EventKind, Job, JobEvent, Photo, Visit
from shop.errors import Refused
from shop.staff.models import Person
from vehicles import actions as vehicles
from vehicles.models import Vehicle


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


@transaction.atomic
def record_vin(job: Job, *, actor: Person | None, vin: str, visit: Visit | None = None) -> Vehicle:
    """Writes a well-formed VIN down for the job's vehicle, and on the job what was there before.

    A job without a vehicle gets one that is known by this VIN, of the job's customer.
    """
    locked = lock_job(job)
    vehicle: Vehicle | None = locked.vehicle
    old = vehicle.vin if vehicle else ""
    if vehicle and old == vin:
        return vehicle
    if vehicle:
        vehicle = vehicles.change_vehicle(vehicle, actor=actor, vin=vin)
    else:
        vehicle = vehicles.add_vehicle(actor=actor, customer=locked.customer, vin=vin)
        locked.vehicle = vehicle
        locked.save(update_fields=["vehicle"])
    record(locked, EventKind.CHANGED, actor=actor, visit=visit, details={"vin": [old, vin]})
    return vehicle
