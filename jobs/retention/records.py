"""Until when the record of a job is kept, by the version of the rule under which it was made."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from jobs.authority import current_rule, thing_of_job
from jobs.models import AuthorityCheck, Job
from jobs.record_rules import kept_until


@dataclass(frozen=True)
class Kept:
    """The last day of keeping, and the name of the rule that says so."""

    until: date
    rule: str


def record_of(job: Job) -> Kept | None:
    """How long the record of a job is kept. The longest of its checks holds; a finished job without a check is kept by
    the rule that the shop follows now, where that wants anything of such a job; else there is no record."""
    checks = AuthorityCheck.objects.filter(job=job).select_related("rule").order_by("-kept_until")
    if longest := checks.first():
        return Kept(longest.kept_until, longest.rule.name)
    if job.finished_at is None:
        return None
    row = current_rule()
    if not row.rule.entries_for(thing_of_job(job), job.kind_of_work):
        return None
    return Kept(without_check(job, job.finished_at), row.name)


def without_check(job: Job, at: datetime) -> date:
    """The last day by the rule followed now, for what was made at a moment on a job without a check."""
    on = timezone.localdate(at)
    return kept_until(current_rule().rule, on, thing=thing_of_job(job), kind=job.kind_of_work)
