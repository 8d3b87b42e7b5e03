"""Until when the record of a job is kept, by the version of the rule under which it was made."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from jobs.authority import current_rule, thing_of_job
from jobs.models import AuthorityCheck, Job
from jobs.record_rules import Rule, kept_until


@dataclass(frozen=True)
class Kept:
    """The last day of keeping, and the name of the rule that says so."""

    until: date
    rule: str


def records_of(jobs: Iterable[Job]) -> dict[int, Kept]:
    """How long the records of jobs are kept, by job id. The longest of a job's checks holds; a finished job without a
    check is kept by the rule that the shop follows now, where that wants anything of such a job; else there is no
    record and the job is left out."""
    found = list(jobs)
    checks = AuthorityCheck.objects.filter(job__in=[job.pk for job in found]).order_by("kept_until")
    kept = {check.job_id: Kept(check.kept_until, check.rule.name) for check in checks.select_related("rule")}
    row = current_rule()
    rule = row.rule
    for job in found:
        if job.pk in kept or job.finished_at is None:
            continue
        if rule.entries_for(thing_of_job(job), job.kind_of_work):
            kept[job.pk] = Kept(without_check(job, job.finished_at, rule), row.name)
    return kept


def without_check(job: Job, at: datetime, rule: Rule) -> date:
    """The last day by a rule, for what was made at a moment on a job without a check."""
    return kept_until(rule, timezone.localdate(at), thing=thing_of_job(job), kind=job.kind_of_work)
