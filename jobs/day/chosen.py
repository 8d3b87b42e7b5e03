"""The chosen job of the day sheet: what was promised, where, and what can be done with it next."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zlib import crc32

from django.utils import timezone

from jobs.day.load import DaySheet
from jobs.day.words import late_words, left_words, window_words
from jobs.estimates import estimate_for
from jobs.forms import BookForm, CloseForm, MoveForm, NoteForm
from jobs.forms.booking import write_seen
from jobs.models import EventKind, Job, JobEvent, Visit
from jobs.rules import minutes_late
from jobs.states import CLOSED_UNDONE, LIVE_VISITS, MOVABLE_VISITS, JobState
from shop.staff.models import Person
from vehicles.estimates import Estimate, quarters

QUARTER = timedelta(minutes=15)
NOTES_SHOWN = 3


@dataclass(slots=True)
class Chosen:
    """One job beside the diary, with the forms for its next actions; a form that was refused is kept as sent."""

    job: Job
    visit: Visit | None
    notes: list[JobEvent]
    window: str
    left: str
    book: BookForm | None = None
    move: MoveForm | None = None
    close: CloseForm | None = None
    note: NoteForm = field(default_factory=NoteForm)
    estimate: Estimate | None = None
    version: str = ""

    @property
    def can_unbook(self) -> bool:
        return self.visit is not None and self.visit.state in MOVABLE_VISITS

    @property
    def can_reopen(self) -> bool:
        return self.job.state in CLOSED_UNDONE


def load_chosen(person: Person, number: int, *, sheet: DaySheet, forms: dict[str, Any] | None = None) -> Chosen | None:
    """The chosen job in three queries; when it waits, one more for the technicians and one for how long it takes.

    None when there is no such job.
    """
    job = (
        Job.objects.for_user(person).select_related("customer", "vehicle", "comeback_of").filter(number=number).first()
    )
    if job is None:
        return None
    visit = job.visits.filter(state__in=LIVE_VISITS).select_related("technician").first()
    notes = list(job.events.filter(kind=EventKind.NOTE).select_related("by").order_by("-at", "-id")[:NOTES_SHOWN])
    until, now = job.promise_until, sheet.now
    chosen = Chosen(
        job=job,
        visit=visit,
        notes=notes,
        window=window_words(job.promise_from, until, now=now, zone=sheet.span.zone) if until else "",
        left=_left(job, visit, sheet),
    )
    _add_forms(chosen, sheet, forms or {})
    chosen.version = _version(chosen)
    return chosen


ENDED = CLOSED_UNDONE | {JobState.FINISHED}


def _left(job: Job, visit: Visit | None, sheet: DaySheet) -> str:
    """Time left for the promise; once somebody is booked, how late they will be, as their block says it."""
    if job.promise_until is None or job.state in ENDED:
        return ""
    if visit is None:
        return left_words(job.promise_until, now=sheet.now)
    block = next((each for column in sheet.columns for each in column.blocks if each.visit_id == visit.pk), None)
    if block and block.late:
        return block.late
    late = minutes_late(visit.starts_at, job.promise_until) if block is None else 0
    if late:
        return f"{late_words(late)} late"
    return "" if visit.arrived_at else left_words(job.promise_until, now=sheet.now)


def _add_forms(chosen: Chosen, sheet: DaySheet, sent: dict[str, Any]) -> None:
    """The form of the next action stands ready, filled with the likeliest answer."""
    job, visit = chosen.job, chosen.visit
    if job.is_open:
        chosen.close = sent.get("close") or CloseForm()
    if job.state == JobState.WAITING:
        chosen.estimate = estimate_for(job.kind_of_work, vehicle=job.vehicle)
        chosen.book = sent.get("book") or BookForm(
            initial={"start": first_start(job, sheet), "minutes": quarters(job.expected_minutes)}
        )
    if visit:
        chosen.move = sent.get("move") or move_form(visit)
    chosen.note = sent.get("note") or chosen.note


def move_form(visit: Visit) -> MoveForm:
    """The form that moves a visit, filled with where it is."""
    return MoveForm(
        initial={
            "technician": visit.technician_id,
            "start": visit.starts_at,
            "minutes": round((visit.ends_at - visit.starts_at) / timedelta(minutes=1)),
            "seen": write_seen(visit.technician_id, visit.starts_at, visit.ends_at),
        }
    )


def first_start(job: Job, sheet: DaySheet) -> datetime:
    """A start to propose: the beginning of the promise if it can still be kept on this day, else as soon as it can be,
    never in the past."""
    earliest = max(sheet.span.start, next_quarter(sheet.now))
    promised: datetime | None = job.promise_from
    if promised and earliest < promised < sheet.span.end:
        return promised
    return earliest


def next_quarter(at: datetime) -> datetime:
    """The next full quarter of an hour on the clock."""
    past = timedelta(minutes=at.minute % 15, seconds=at.second, microseconds=at.microsecond)
    return at - past + (QUARTER if past else timedelta())


def _version(chosen: Chosen) -> str:
    """Changes whenever something that the panel shows does; the page then draws it anew, unless it is being used."""
    job, visit = chosen.job, chosen.visit
    shown = [
        job.state,
        chosen.left,
        *(str(getattr(job, name.attname)) for name in job._meta.concrete_fields),
        *((visit.pk, visit.state, visit.technician_id, visit.during) if visit else ()),
        *(note.pk for note in chosen.notes),
        chosen.estimate,
        timezone.get_current_timezone_name(),
    ]
    return f"{crc32(repr(shown).encode()):08x}"
