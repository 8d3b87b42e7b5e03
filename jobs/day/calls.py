"""The waiting calls of the day sheet, as its left column shows them."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jobs.day.span import Span
from jobs.day.words import left_words, window_words
from jobs.rules import minutes_late
from jobs.states import KindOfWork, LockedIn
from vehicles.estimates import quarters

KINDS: dict[str, str] = {str(value): label for value, label in KindOfWork.choices}
LOCKED_IN: dict[str, str] = {str(value): f"{label} locked in" for value, label in LockedIn.choices}


@dataclass(slots=True)
class Call:
    """One waiting call. Minutes are counted from the top of the page; `danger` is empty when nobody is locked in."""

    number: int
    kind: str
    customer: str
    vehicle: str
    place: str
    danger: str
    window: str
    left: str
    is_late: bool
    length: int
    promise_from: int | None
    promise_until: int | None
    has_point: bool


def vehicle_words(year: int | None, make: str | None, model: str | None, plate: str | None) -> str:
    what = " ".join(str(part) for part in (year, make, model) if part)
    return " · ".join(part for part in (what, plate) if part)


def place_words(street: str, town: str) -> str:
    return f"{street}, {town}" if street and town else street or town


def call_of(row: Any, *, span: Span, now: datetime) -> Call:
    """A call from a row of `JobQuerySet.as_calls`."""
    start, end = row.promise_from, row.promise_until
    return Call(
        number=row.number,
        kind=KINDS[row.kind_of_work],
        customer=row.customer__name,
        vehicle=vehicle_words(row.vehicle__year, row.vehicle__make, row.vehicle__model, row.vehicle__plate),
        place=place_words(row.street, row.town),
        danger="" if row.locked_in == LockedIn.NOBODY else LOCKED_IN[row.locked_in],
        window=window_words(start, end, now=now, zone=span.zone) if end else "",
        left=left_words(end, now=now) if end else "",
        is_late=bool(minutes_late(now, end)),
        length=quarters(row.expected_minutes),
        promise_from=span.minute(start) if end else None,
        promise_until=span.minute(end) if end else None,
        has_point=row.latitude is not None,
    )
