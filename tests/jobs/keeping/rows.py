"""Jobs with everything guarded that there is, and their time moved into the past; the people are invented."""

from datetime import date, datetime, timedelta
from typing import Any

from django.core.files.base import ContentFile
from django.utils import timezone

from jobs import actions as jobs
from jobs.models import AuthorityCheck, AuthorityPhoto, Job, KeyWork
from jobs.record_rules import Fact
from shop.append_only import erasing
from tests.jobs.authority.rows import whole
from tests.jobs.keys.rows import CODE, FROM_DOOR, Bench, bench

PAPER = b"\xff\xd8\xff the owner's registration, photographed"
NIGHT = 4


def keyed(**facts: Any) -> Bench:
    """All keys lost, checked with a photo of papers, found by code, made; still on site."""
    made = bench(is_checked=False, **facts)
    photo = jobs.keep_paper_photo(made.job, actor=made.me, file=ContentFile(PAPER, "paper.jpg"))
    jobs.pass_check(made.job, actor=made.me, facts=whole(photos=[photo]), visit=made.visit)
    made.begin()
    jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Door lock", visit=made.visit)
    jobs.record_known_cuts(made.job, actor=made.me, known=FROM_DOOR, lock="door", visit=made.visit)
    return made


def done(made: Bench, *, at: datetime | None = None) -> Job:
    """The visit ended; a price was told."""
    known = frozenset({Fact.PRICE_TOLD})
    jobs.finish_visit(made.visit, actor=made.me, at=at or timezone.now(), known=known)
    return Job.objects.get(pk=made.job.pk)


def check_of(made: Bench) -> AuthorityCheck:
    check: AuthorityCheck | None = AuthorityCheck.objects.of(made.job)
    assert check is not None
    return check


def work_of(made: Bench) -> KeyWork:
    work: KeyWork = KeyWork.objects.get(job=made.job)
    return work


def photos_of(made: Bench) -> list[AuthorityPhoto]:
    return list(AuthorityPhoto.objects.filter(job=made.job))


def keep_until(check: AuthorityCheck, day: date) -> None:
    """As if it had been recorded so long ago that its last day of keeping is `day`."""
    with erasing():
        AuthorityCheck.objects.filter(pk=check.pk).update(kept_until=day)


def night(days: int = 0) -> datetime:
    """The shop's small hours, so many days from now."""
    moment = timezone.localtime() + timedelta(days=days)
    return moment.replace(hour=NIGHT, minute=0, second=0, microsecond=0)
