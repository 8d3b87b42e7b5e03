"""What jobs know of one customer: duties to keep it, the data of an export, and erasing it."""

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

from jobs.models import AuthorityCheck, Hold, Job, JobEvent, KeyWork, Photo, StepDone
from jobs.record_rules.facts import PAPERS_WORDS
from jobs.retention.erasing import HOLDS_WORDS, empty_jobs
from jobs.retention.holds import jobs_under_hold
from jobs.retention.records import Kept, records_of
from jobs.states import OPEN_JOBS
from shop.customers.models import Customer
from shop.keeping.rooms import Duty, KeptFile, Spared

_JOB = ("number", "kind_of_work", "state", "caller_name", "caller_phone", "owner_name", "description", "street", "town",
        "access_notes", "payer_note", "purchase_order", "called_at", "finished_at", "closed_reason")  # fmt: skip
_CHECK = ("at", "outcome", "name", "address", "phone", "relationship", "document_kind", "vin_on_car", "vin_on_papers",
          "lock_type", "confirmed_how", "reason", "kept_until")  # fmt: skip


def duties(customer: Customer, on: date) -> list[Duty]:
    """Open jobs and holds keep the customer as a whole, record rules and holds of one job keep that job."""
    standing = Hold.objects.standing(on)
    found = [
        Duty(f"A hold stands on this customer: {hold.reason}", hold.until, keeps_all=True)
        for hold in standing.filter(customer=customer)
    ]
    # A hold on the customer keeps all jobs; it is told once, above.
    asked = set() if found else set(jobs_under_hold(on).filter(customer=customer).values_list("pk", flat=True))
    own = {hold.job_id: hold for hold in standing.filter(job__customer=customer)}
    jobs = list(Job.objects.filter(customer=customer).select_related("vehicle").order_by("number"))
    kept = records_of(jobs)
    for job in jobs:
        found += _of_job(job, on, own.get(job.pk), kept.get(job.pk), is_asked=job.pk in asked)
    return found


def _of_job(job: Job, on: date, hold: Hold | None, kept: Kept | None, *, is_asked: bool) -> Iterator[Duty]:
    if job.state in OPEN_JOBS:
        yield Duty(f"Job {job.number} is not finished.", keeps_all=True)
    if hold is not None:
        yield Duty(f"A hold stands on job {job.number}: {hold.reason}", hold.until, job=job.pk)
    elif is_asked:
        yield Duty(f"An authority has asked for job {job.number} and is not answered yet.", job=job.pk)
    if kept and kept.until >= on:
        yield Duty(f"The record of job {job.number} is kept by the rule “{kept.rule}”.", kept.until, job=job.pk)


def data(customer: Customer) -> dict[str, Any]:
    """Everything in the clear; what is guarded is named as sealed."""
    return {"jobs": [_job_data(job) for job in Job.objects.filter(customer=customer).order_by("number")]}


def _job_data(job: Job) -> dict[str, Any]:
    work = KeyWork.objects.filter(job=job).first()
    return {
        **{name: getattr(job, name) for name in _JOB},
        "events": list(JobEvent.objects.filter(job=job).values("at", "kind", "words", "details")),
        "photos": [{"file": _photo_name(photo), "words": photo.words} for photo in job.photos.order_by("pk")],
        "checks": [_check_data(check) for check in AuthorityCheck.objects.filter(job=job).order_by("pk")],
        "key": {"keys_cut": work.keys_cut, "cuts": "sealed" if work.bitting is not None else ""} if work else None,
    }


def _check_data(check: AuthorityCheck) -> dict[str, Any]:
    guarded = ("born_on", "document_number", "signature")
    return {
        **{name: getattr(check, name) for name in _CHECK},
        "papers": [words for kind, words in PAPERS_WORDS.items() if kind in check.papers],
        **{name: "" if getattr(check, name) is None else "sealed" for name in guarded},
    }


def files(customer: Customer) -> Iterator[KeptFile]:
    """The photos of the customer's jobs. Photos of papers are guarded and not among them."""
    for photo in Photo.objects.filter(job__customer=customer).select_related("job").order_by("pk"):
        yield KeptFile(_photo_name(photo), _reader(photo))


def _photo_name(photo: Photo) -> str:
    return f"photos/job-{photo.job.number}-{photo.pk}{Path(str(photo.file)).suffix.lower()}"


def _reader(photo: Photo) -> Callable[[], bytes]:
    def read() -> bytes:
        with photo.file.open("rb") as kept:
            return bytes(kept.read())

    return read


def erase(customer: Customer, on: date, spared: Spared) -> list[str]:
    """Empties the customer's jobs that no duty keeps."""
    free = Job.objects.filter(customer=customer).exclude(pk__in=spared.jobs)
    with_photos = Photo.objects.filter(job__in=free).values("job")
    with_words = JobEvent.objects.filter(job__in=free).exclude(words="", details={}).values("job")
    with_notes = StepDone.objects.filter(run__job__in=free).exclude(reason="", note="").values("run__job")
    due = free.filter(pk__in=free.filter(HOLDS_WORDS).values("pk").union(with_photos, with_words, with_notes))
    gone = empty_jobs(due)
    return [f"Callers, places, notes and photos of {gone} {'job' if gone == 1 else 'jobs'}"] if gone else []
