"""Days of keeping, and how rows and files go. Plain dates."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone


def years_after(day: date, years: int) -> date:
    """The same day so many years later; 29 February becomes 1 March in a common year, since the longer time is safe."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def years_before(day: date, years: int) -> date:
    """The first day that is kept on `day` when things are kept so many years: what came earlier is due."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)


def begins(day: date) -> datetime:
    """Midnight at the beginning of a day in the current zone, which is the shop's."""
    return datetime.combine(day, time(), timezone.get_current_timezone())


def days_ago(day: date, days: int) -> datetime:
    return begins(day - timedelta(days=days))


def drop_files(rows: Any, field: str) -> int:
    """Deletes the files that rows of a queryset name; returns how many rows.

    The files go before the rows do: should the transaction fail, the row stays and is due again the next time, while a
    file without a row would be found by nobody.
    """
    found = 0
    for row in rows:
        kept = getattr(row, field)
        if kept:
            kept.storage.delete(kept.name)
        found += 1
    return found
