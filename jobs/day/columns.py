"""A technician's column of the day sheet: blocks with their promise, the drive before them and their lateness."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from jobs.day.calls import KINDS, LOCKED_IN, place_words, vehicle_words
from jobs.day.span import MINUTE, Span
from jobs.day.words import late_words
from jobs.forms.booking import write_seen
from jobs.rules import Timing, expected_arrival, expected_end, minutes_late, minutes_overdue
from jobs.states import MOVABLE_VISITS, UNDER_WAY, LockedIn, VisitState
from shop.geo import Point, drive_minutes
from shop.templatetags.bittern import STATES, disc

# The filling disc of each state of a visit, drawn once, and its word.
MARKS: dict[str, tuple[str, str]] = {state: (disc(STATES[state][0]), STATES[state][1]) for state in VisitState.values}


@dataclass(slots=True)
class Block:
    """One visit on the page. `at` and `rows` are drawn, minutes (from the top of the page) are exact."""

    visit_id: int
    number: int
    state: str
    kind: str
    customer: str
    vehicle: str
    place: str
    times: str
    at: int
    rows: int
    start: int
    length: int
    technician_id: int
    can: str
    danger: str
    mark: str
    word: str
    seen: str
    late: str = ""
    overdue: str = ""
    promise_from: int | None = None
    promise_until: int | None = None
    promise_at: int = 0
    promise_rows: int = 0
    lane: int = 0
    drive_at: int = 0
    drive_rows: int = 0
    drive: int = 0


@dataclass(slots=True)
class Column:
    """One technician's day. `shades` are the rows outside the shift, `shift` its words or why there is none."""

    technician_id: int
    name: str
    shift: str
    shift_from: int | None
    shift_until: int | None
    shades: list[tuple[int, int]]
    blocks: list[Block] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Travel:
    """How long drives take: the shop's place, where days begin, and the average speed."""

    base: Point | None
    speed_kmh: int

    def between(self, origin: Point | None, target: Point | None) -> int:
        """Minutes to drive; 0 when either place is unknown."""
        if origin is None or target is None or origin == target:
            return 0
        return drive_minutes(origin, target, speed_kmh=self.speed_kmh)


def point_of(latitude: Any, longitude: Any) -> Point | None:
    return None if latitude is None else Point(latitude, longitude)


def shades_of(shift: tuple[datetime, datetime] | None, span: Span) -> list[tuple[int, int]]:
    """Rows of the page that lie outside a shift."""
    if shift is None or not span.shows(*shift):
        return [(0, span.rows)]
    first, length = span.place(*shift)
    edges = [(0, first), (first + length, span.rows - first - length)]
    return [(at, rows) for at, rows in edges if rows > 0]


def blocks_of(rows: Iterable[Any], *, span: Span, travel: Travel, now: datetime) -> list[Block]:
    """The blocks of one technician, from rows of `VisitQuerySet.as_blocks` in order of start."""
    blocks: list[Block] = []
    here, free_at = travel.base, None
    lanes = [span.start, span.start]
    for row in rows:
        there = point_of(row.job__latitude, row.job__longitude)
        drive = travel.between(here, there)
        timing = _timing(row, drive)
        arrival = expected_arrival(timing, free_at=free_at, now=now)
        block = _block(row, span)
        _add_drive(block, timing, free_at, span)
        _add_promise(block, row, span, lanes)
        _add_lateness(block, row, timing, arrival, now)
        free_at = expected_end(timing, arrival=arrival, now=now)
        here = there or here
        blocks.append(block)
    return blocks


def _timing(row: Any, drive: int) -> Timing:
    return Timing(
        row.state,
        row.during.lower,
        row.during.upper,
        drive * MINUTE,
        row.set_off_at,
        row.arrived_at,
        row.finished_at,
    )


def _block(row: Any, span: Span) -> Block:
    start, end = row.during.lower, row.during.upper
    at, rows = span.place(start, end)
    return Block(
        visit_id=row.id,
        number=row.job__number,
        state=row.state,
        kind=KINDS[row.job__kind_of_work],
        customer=row.job__customer__name,
        vehicle=vehicle_words(
            row.job__vehicle__year, row.job__vehicle__make, row.job__vehicle__model, row.job__vehicle__plate
        ),
        place=place_words(row.job__street, row.job__town),
        times=f"{span.clock(start)} to {span.clock(end)}",
        at=at,
        rows=rows,
        start=span.minute(start),
        length=(end - start) // MINUTE,
        technician_id=row.technician_id,
        can="move" if row.state in MOVABLE_VISITS else "end" if row.state in UNDER_WAY else "",
        danger="" if row.job__locked_in == LockedIn.NOBODY else LOCKED_IN[row.job__locked_in],
        mark=MARKS[row.state][0],
        word=MARKS[row.state][1],
        seen=write_seen(row.technician_id, start, end),
    )


def _add_drive(block: Block, timing: Timing, free_at: datetime | None, span: Span) -> None:
    block.drive = timing.drive // MINUTE
    starts = max(timing.starts_at - timing.drive, span.start)
    if block.drive and starts < timing.starts_at and span.shows(starts, timing.starts_at):
        block.drive_at, block.drive_rows = span.place(starts, timing.starts_at)


def _add_promise(block: Block, row: Any, span: Span, lanes: list[datetime]) -> None:
    """Draws the promise in the first of two lanes that is free, so that brackets do not lie on one another."""
    start, end = row.job__promise_from, row.job__promise_until
    if end is None:
        return
    block.promise_from, block.promise_until = span.minute(start), span.minute(end)
    if span.shows(start, end):
        block.promise_at, block.promise_rows = span.place(start, end)
        block.lane = 0 if lanes[0] <= start or lanes[1] > start else 1
        lanes[block.lane] = max(lanes[block.lane], end)


def _add_lateness(block: Block, row: Any, timing: Timing, arrival: datetime, now: datetime) -> None:
    if timing.state == VisitState.FINISHED and timing.arrived_at is None:
        return
    late = minutes_late(arrival, row.job__promise_until)
    if late:
        block.late = f"{late_words(late)} late"
    overdue = minutes_overdue(timing, now=now)
    if overdue:
        block.overdue = f"Should have set off {late_words(overdue)} ago"


def shift_words(shift: tuple[datetime, datetime] | None, span: Span) -> str:
    return "Not on shift" if shift is None else f"{span.clock(shift[0])}–{span.clock(shift[1])}"


def column_of(technician_id: int, name: str, shift: tuple[datetime, datetime] | None, span: Span) -> Column:
    return Column(
        technician_id=technician_id,
        name=name,
        shift=shift_words(shift, span),
        shift_from=span.minute(shift[0]) if shift else None,
        shift_until=span.minute(shift[1]) if shift else None,
        shades=shades_of(shift, span),
    )
