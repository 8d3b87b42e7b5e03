"""Guarded data is opened: the only place that hands out permits, and writes down each."""

from collections.abc import Iterable
from datetime import datetime
from functools import cache

from django.db import connection, transaction
from django.utils import timezone

from jobs.authority import load_hand
from jobs.errors import ReasonNeeded
from jobs.models import Job, Opening
from jobs.opening_chain import START, Link, linked
from jobs.rules import may_open_guarded
from shop.actions import next_number
from shop.errors import Refused
from shop.guarded import NotPermitted, Permit, keyring
from shop.guarded.rotation import guarded_columns, guarded_file_columns
from shop.models import Counter
from shop.staff.models import Person

SERIES = "opening"
LONGEST_REASON = 300
# Any number that no other advisory lock of the program uses.
CHAIN_LOCK = 7_304_417


@transaction.atomic
def open_guarded(
    job: Job,
    *,
    actor: Person,
    kinds: Iterable[str],
    reason: str = "",
    for_job: Job | None = None,
    at: datetime | None = None,
) -> Permit:
    """Leave to open guarded columns of a job (`kinds` such as "jobs.authoritycheck.born_on"), written down as one row.

    The reason is given once: without one, an opening by the same person for the same job and kinds within the last half
    hour still serves. `for_job` is the job at hand when the data lies on an earlier job of the same vehicle.
    Raises NotPermitted for who may not, ReasonNeeded without a reason or an opening that still serves.
    """
    wanted = sorted(set(kinds))
    _check_kinds(wanted)
    verdict = may_open_guarded(load_hand(job, actor, for_job=for_job), wanted)
    if not verdict.is_so:
        raise NotPermitted(verdict.words)
    words = " ".join(reason.split())
    if len(words) > LONGEST_REASON - 20:
        raise Refused(f"Say it in at most {LONGEST_REASON - 20} letters.", field="reason")
    if words and for_job and for_job.pk != job.pk:
        words = f"For job {for_job.number}: {words}"
    _lock_chain()
    # Only now: whoever waited here may be served by the one who went before.
    moment = at or timezone.now()
    served = Opening.objects.covering(person=actor, job=job, kinds=wanted, at=moment)
    if served is None or (words and served.reason != words):
        served = _write(job, actor, wanted, words, moment)
    return Permit(frozenset(wanted), opening=str(served.number))


def sign(text: str) -> str:
    """The keyed hash of a link's hash."""
    return keyring().fingerprint("jobs.opening", text)


def numbers_given_out() -> int:
    """How many openings there ever were, by the counter."""
    return Counter.objects.filter(series=SERIES).values_list("last", flat=True).first() or 0


@cache
def guarded_kinds() -> frozenset[str]:
    """The names of every guarded column and column of guarded files."""
    files = {f"{model._meta.label_lower}.{field.name}" for model, field in guarded_file_columns()}
    return frozenset({field.kind for _, field in guarded_columns()} | files)


def _check_kinds(wanted: list[str]) -> None:
    unknown = [kind for kind in wanted if kind not in guarded_kinds()]
    if unknown or not wanted:
        raise TypeError(f"Not guarded columns: {', '.join(unknown) or 'none given'}.")


def _lock_chain() -> None:
    """Openings are written one after another until the transaction ends, so that each knows the one before."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [CHAIN_LOCK])


def _write(job: Job, actor: Person, kinds: list[str], reason: str, at: datetime) -> Opening:
    if not reason:
        raise ReasonNeeded("Say why you open this. It is written down.", field="reason")
    last = Opening.objects.order_by("-number").first()
    link = linked(
        Link(
            number=next_number(SERIES),
            person=actor.pk,
            name=actor.name,
            job=job.number,
            kinds=tuple(kinds),
            reason=reason,
            at=at,
            previous=last.hash if last else START,
        ),
        sign,
    )
    return Opening.objects.create(
        number=link.number,
        person=actor,
        person_name=link.name,
        job=job,
        job_number=link.job,
        kinds=list(link.kinds),
        reason=link.reason,
        at=link.at,
        previous=link.previous,
        hash=link.hash,
        seal=link.seal,
    )
