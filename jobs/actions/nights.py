"""The night deletes or makes anonymous what is due, once, and writes down what it did."""

import logging
from datetime import date, datetime

from django.db import connection, transaction
from django.utils import timezone

from jobs.models import Hold, KeepingRun
from shop.keeping.rooms import Step, all_steps

# Any number that no other advisory lock of the program uses.
NIGHT_LOCK = 7_304_418
# The shop's night: after this hour whatever was not done yet today is done.
FROM_HOUR = 3

log = logging.getLogger(__name__)


def keep_night(now: datetime | None = None) -> KeepingRun | None:
    """Does what this night has not done yet; None before its hour, and when it is done or under way already.

    What earlier nights missed is due as well, so a machine that was off catches up the first time this is called.
    A step that fails is written down, hinders no other, and is tried again at the next call.
    """
    moment = timezone.localtime(now or timezone.now())
    if moment.hour < FROM_HOUR:
        return None
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(%s)", [NIGHT_LOCK])
        if not cursor.fetchone()[0]:
            return None
    try:
        run, _ = KeepingRun.objects.get_or_create(night=moment.date(), defaults={"begun_at": moment})
        return None if run.ended_at else _do(run, moment)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [NIGHT_LOCK])


def falling_due(day: date) -> list[tuple[str, int]]:
    """What would be deleted on a day if nothing were before: words and count, kinds with none left out."""
    found = ((step.words, step.due(day)) for step in all_steps())
    return [(words, count) for words, count in found if count]


def told(run: KeepingRun) -> list[tuple[str, int]]:
    """What a night did, in words, kinds with nothing left out."""
    words = {step.kind: step.words for step in all_steps()}
    return [(words.get(kind, kind), count) for kind, count in run.counts.items() if count]


def failed(run: KeepingRun) -> list[str]:
    words = {step.kind: step.words for step in all_steps()}
    return [words.get(kind, kind) for kind in run.failures]


def _do(run: KeepingRun, moment: datetime) -> KeepingRun:
    run.failures = []
    for step in all_steps():
        if step.kind not in run.counts and not _is_done(run, step):
            run.failures.append(step.kind)
    run.spared = Hold.objects.standing(run.night).count()
    run.ended_at = None if run.failures else moment
    run.save(update_fields=["failures", "spared", "ended_at"])
    return run


def _is_done(run: KeepingRun, step: Step) -> bool:
    """One step and its count in one transaction, so that a worker killed in between has done neither."""
    try:
        with transaction.atomic():
            counts = {**run.counts, step.kind: step.sweep(run.night)}
            KeepingRun.objects.filter(pk=run.pk).update(counts=counts)
    except Exception:
        log.exception("The night could not finish: %s", step.kind)
        return False
    run.counts = counts
    return True
