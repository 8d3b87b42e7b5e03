"""What the night deletes of jobs. Every query takes the day and leaves out what is under a hold."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.db.models import Max

from jobs.authority import current_rule
from jobs.models import AuthorityCheck, AuthorityPhoto, CallDraft, DataExport, Job, KeepingTimes, KeyWork, Photo
from jobs.retention.erasing import (
    HOLDS_IDENTITY,
    HOLDS_KEY,
    HOLDS_WORDS,
    delete_job_photos,
    delete_paper_photos,
    empty_checks,
    empty_jobs,
    empty_key_work,
)
from jobs.retention.holds import jobs_under_hold
from jobs.retention.records import records_of, without_check
from jobs.states import OPEN_JOBS
from shop.keeping.days import begins, days_ago, drop_files, years_before
from shop.keeping.rooms import Step

DRAFT_DAYS = 30
EXPORT_DAYS = 7
LOOSE_PHOTO_DAYS = 1


def _checks(day: date) -> Any:
    due = AuthorityCheck.objects.filter(kept_until__lt=day).filter(HOLDS_IDENTITY)
    return due.exclude(job__in=jobs_under_hold(day))


def _loose_photos(day: date) -> Any:
    """Photos of papers that no check claimed."""
    due = AuthorityPhoto.objects.filter(authority_check__isnull=True, taken_at__lt=days_ago(day, LOOSE_PHOTO_DAYS))
    return due.exclude(job__in=jobs_under_hold(day))


def _keys(day: date) -> Any:
    """Key work whose record is over: by the longest check of the job; without any, by the rule followed now."""
    works = KeyWork.objects.filter(HOLDS_KEY).exclude(job__in=jobs_under_hold(day)).exclude(job__state__in=OPEN_JOBS)
    dated = works.annotate(until=Max("job__authority_checks__kept_until"))
    rule = current_rule().rule
    unchecked = [
        work.pk
        for work in dated.filter(until__isnull=True).select_related("job")
        if without_check(work.job, work.made_at or work.begun_at, rule) < day
    ]
    over = list(dated.filter(until__lt=day).values_list("pk", flat=True))
    return KeyWork.objects.filter(pk__in=[*over, *unchecked])


def _photos(day: date) -> Any:
    oldest = begins(years_before(day, KeepingTimes.current().photo_years))
    return Photo.objects.filter(taken_at__lt=oldest).exclude(job__in=jobs_under_hold(day))


def _drafts(day: date) -> Any:
    return CallDraft.objects.filter(changed_at__lt=days_ago(day, DRAFT_DAYS))


def _exports(day: date) -> Any:
    return DataExport.objects.filter(asked_at__lt=days_ago(day, EXPORT_DAYS))


def _old_jobs(day: date) -> Any:
    """Jobs older than the money years that no record rule keeps any more."""
    oldest = begins(years_before(day, KeepingTimes.current().money_years))
    due = Job.objects.filter(HOLDS_WORDS, called_at__lt=oldest).exclude(state__in=OPEN_JOBS)
    old = list(due.exclude(pk__in=jobs_under_hold(day)).select_related("vehicle"))
    kept = {job_id for job_id, record in records_of(old).items() if record.until >= day}
    return Job.objects.filter(pk__in=[job.pk for job in old if job.pk not in kept])


def _delete(rows: Any) -> int:
    return int(rows.delete()[0])


def _delete_exports(exports: Any) -> int:
    found = drop_files(exports, "file")
    exports.delete()
    return found


def _step(kind: str, words: str, rows: Callable[[date], Any], take: Callable[[Any], int]) -> Step:
    return Step(kind, words, lambda day: int(rows(day).count()), lambda day: take(rows(day)))


STEPS = (
    _step("checks", "Records of who asked, with papers and signature", _checks, empty_checks),
    _step("loose_photos", "Photos of papers that belong to no check", _loose_photos, delete_paper_photos),
    _step("keys", "Key codes and cuts", _keys, empty_key_work),
    _step("photos", "Photos of jobs", _photos, delete_job_photos),
    _step("drafts", "Calls begun and not finished", _drafts, _delete),
    _step("exports", "Files with a customer's data", _exports, _delete_exports),
    _step("old_jobs", "Callers, places and notes of old jobs", _old_jobs, empty_jobs),
)
