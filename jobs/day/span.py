"""The stretch of one day that a page of the diary shows, and where a moment lies on it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
ROW = timedelta(minutes=5)
_TICK = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Hour:
    """A printed hour: its label, the row it begins in and how many rows it has."""

    label: str
    at: int
    rows: int


@dataclass(frozen=True, slots=True)
class Span:
    """From `start` to `end` (both UTC) in rows of five minutes.

    Rows are real time: the page of a day on which the clocks change has an hour more or less, and prints the hours
    as the clock on the wall shows them.
    """

    start: datetime
    end: datetime
    zone: tzinfo

    @property
    def rows(self) -> int:
        return (self.end - self.start) // ROW

    def minute(self, at: datetime) -> int:
        """Whole minutes from the top of the page; negative above it."""
        return (at - self.start) // MINUTE

    def place(self, start: datetime, end: datetime) -> tuple[int, int]:
        """First row and number of rows (at least one) of a stretch, cut to the page."""
        first = min(max(round((start - self.start) / ROW), 0), self.rows - 1)
        last = min(round((end - self.start) / ROW), self.rows)
        return first, max(last - first, 1)

    def shows(self, start: datetime, end: datetime) -> bool:
        return start < self.end and end > self.start

    def clock(self, at: datetime) -> str:
        """`14:05` as the wall shows it."""
        local = at.astimezone(self.zone)
        return f"{local.hour:02}:{local.minute:02}"

    def hours(self) -> list[Hour]:
        marks = list(self._full_hours())
        ends = [*marks[1:], self.end]
        return [
            Hour(f"{mark.astimezone(self.zone).hour}", (mark - self.start) // ROW, (end - mark) // ROW)
            for mark, end in zip(marks, ends, strict=True)
        ]

    def _full_hours(self) -> Iterator[datetime]:
        mark = self.start
        while mark < self.end:
            if mark.astimezone(self.zone).minute == 0:
                yield mark
            mark += ROW


def moment(day: date, clock: time, zone: tzinfo) -> datetime:
    """A time on the wall as an instant; of two (the hour that is lived twice) the first."""
    return datetime.combine(day, clock, zone).astimezone(UTC)


def whole_day(day: date, zone: tzinfo) -> tuple[datetime, datetime]:
    """From midnight to midnight: 23, 24 or 25 hours."""
    return moment(day, time(), zone), moment(day + timedelta(days=1), time(), zone)


def span_of(day: date, *, opens: time, closes: time, zone: tzinfo, moments: Iterable[datetime]) -> Span:
    """The shop's hours on a day, drawn out to full hours that hold every one of `moments` within that day."""
    first, last = whole_day(day, zone)
    inside = [min(max(at, first), last) for at in moments]
    inside += [moment(day, opens, zone), moment(day, closes, zone)]
    start = max(_hour_before(min(inside), zone), first)
    end = min(_hour_before(max(inside) - _TICK, zone) + HOUR, last)
    return Span(start, end, zone)


def _hour_before(at: datetime, zone: tzinfo) -> datetime:
    local = at.astimezone(zone)
    return at - timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
