"""How a worker tells how far it is, and makes sure that no other does the same work."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from time import monotonic
from types import TracebackType

from django.db import connection
from django.utils import timezone

from vehicles.models import LongWork

SILENT_AFTER = timedelta(seconds=60)
_TOLD_EVERY_S = 0.7


@contextmanager
def only_one(work: LongWork) -> Iterator[bool]:
    """True inside for one worker at a time; a task delivered twice finds False. The lock ends with its connection, so a
    killed worker leaves none behind."""
    table = work._meta.db_table
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(hashtext(%s), %s)", [table, work.pk])
        taken = bool(cursor.fetchone()[0])
    try:
        yield taken
    finally:
        if taken:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_unlock(hashtext(%s), %s)", [table, work.pk])


class Teller:
    """Writes how far the work is on a connection of its own: seen while the work's transaction is open."""

    def __init__(self, work: LongWork) -> None:
        self._work, self._last = work, 0.0
        self._connection = connection.copy()

    def __enter__(self) -> "Teller":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._connection.close()

    def part(self, low: int, high: int) -> Callable[[float], None]:
        """Takes the share done, 0 to 1, of the part of the work that runs from `low` to `high` percent."""
        return lambda share: self.tell(round(low + (high - low) * min(1.0, share)))

    def tell(self, percent: int) -> None:
        if monotonic() - self._last < _TOLD_EVERY_S:
            return
        self._last = monotonic()
        table = self._connection.ops.quote_name(self._work._meta.db_table)
        with self._connection.cursor() as cursor:
            cursor.execute(
                f"UPDATE {table} SET percent = %s, heard_at = %s WHERE id = %s",
                [min(99, percent), timezone.now(), self._work.pk],
            )


def begin(work: LongWork) -> None:
    """Marks the work as under way."""
    work.state, work.heard_at, work.percent = work.State.RUNNING, timezone.now(), 0
    work.save(update_fields=["state", "heard_at", "percent"])


def give_up(work: LongWork, words: str) -> None:
    """Marks the work as refused, with the reason."""
    work.state, work.words, work.heard_at = work.State.REFUSED, words, timezone.now()
    work.save(update_fields=["state", "words", "heard_at"])
