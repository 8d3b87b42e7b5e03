"""Reads one day for the day sheet."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from django.utils import timezone

from jobs.day.calls import Call, call_of
from jobs.day.columns import Column, Travel, blocks_of, column_of, point_of
from jobs.day.span import Hour, Span, moment, span_of, whole_day
from jobs.models import Job, Visit
from shop.models import Shop
from shop.staff.models import Person

MOST_COLUMNS = 12
LOOK_AHEAD = timedelta(hours=1)

Shift = tuple[datetime, datetime]


@dataclass(slots=True)
class DaySheet:
    """Everything the page of one day shows beside the chosen job."""

    day: date
    span: Span
    now: datetime
    is_today: bool
    hours: list[Hour]
    columns: list[Column]
    calls: list[Call]

    @property
    def before(self) -> date:
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date:
        return self.day + timedelta(days=1)

    @property
    def start_ms(self) -> int:
        """The top of the page in milliseconds since 1970, for the page's script."""
        return int(self.span.start.timestamp() * 1000)

    @property
    def now_row(self) -> int | None:
        shown = self.is_today and self.span.shows(self.now, self.now + LOOK_AHEAD)
        return self.span.place(self.now, self.now)[0] if shown else None

    @property
    def now_minute(self) -> int:
        return self.span.minute(self.now)

    @property
    def now_clock(self) -> str:
        return self.span.clock(self.now)

    @property
    def late_count(self) -> int:
        """Waiting calls and unfinished visits that miss their promise, as far as can be told."""
        open_blocks = (block for column in self.columns for block in column.blocks if block.can)
        blocks = sum(1 for block in open_blocks if block.late)
        return blocks + sum(1 for call in self.calls if call.is_late)

    @property
    def visit_count(self) -> int:
        return sum(len(column.blocks) for column in self.columns)


def load_day_sheet(day: date, *, now: datetime | None = None) -> DaySheet:
    """The sheet of a day in three queries, however many technicians and visits it has."""
    now = now or timezone.now()
    shop, zone = Shop.current(), timezone.get_current_timezone()
    is_today = now.astimezone(zone).date() == day
    visits = list(Visit.objects.standing().between(*whole_day(day, zone)).as_blocks())
    waiting = list(Job.objects.waiting().as_calls())
    people = list(Person.objects.on_shift(day).values_list("id", "name", "shift_starts", "shift_ends"))
    shifts = {pk: (name, (moment(day, a, zone), moment(day, b, zone))) for pk, name, a, b in people}
    edges = _edges(day, zone, visits, waiting, [shift for _, shift in shifts.values()], now if is_today else None)
    span = span_of(day, opens=shop.day_starts, closes=shop.day_ends, zone=zone, moments=edges)
    travel = Travel(point_of(shop.latitude, shop.longitude), shop.drive_speed_kmh)
    return DaySheet(
        day=day,
        span=span,
        now=now,
        is_today=is_today,
        hours=span.hours(),
        columns=_columns(shifts, visits, span=span, travel=travel, now=now),
        calls=[call_of(row, span=span, now=now) for row in waiting],
    )


def _edges(
    day: date, zone: tzinfo, visits: list[Any], waiting: list[Any], shifts: list[Shift], now: datetime | None
) -> list[datetime]:
    """Moments that the page must hold: visits, shifts, promises told for this day, and the hour to come."""
    found = [edge for row in visits for edge in (row.during.lower, row.during.upper)]
    found += [edge for shift in shifts for edge in shift]
    first, last = whole_day(day, zone)
    for row in waiting:
        if row.promise_until and first <= row.promise_from and row.promise_until <= last:
            found += [row.promise_from, row.promise_until]
    return [*found, now, now + LOOK_AHEAD] if now else found


def _columns(
    shifts: dict[int, tuple[str, Shift]], visits: Iterable[Any], *, span: Span, travel: Travel, now: datetime
) -> list[Column]:
    """One for each technician on shift, and for whoever has a visit all the same; by name."""
    by_technician: dict[int, list[Any]] = defaultdict(list)
    for row in visits:
        by_technician[row.technician_id].append(row)
    columns = {pk: column_of(pk, name, shift, span) for pk, (name, shift) in shifts.items()}
    for pk, rows in by_technician.items():
        if pk not in columns:
            columns[pk] = column_of(pk, rows[0].technician__name, None, span)
        columns[pk].blocks = blocks_of(rows, span=span, travel=travel, now=now)
    return sorted(columns.values(), key=lambda column: (column.name, column.technician_id))
