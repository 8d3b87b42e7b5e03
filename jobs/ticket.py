"""One job as its desk page shows it."""

from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from jobs.authority import makes_key
from jobs.day.chosen import ENDED, move_form, next_quarter
from jobs.day.words import left_words, window_words
from jobs.estimates import estimate_for
from jobs.forms import BookForm, CloseForm, MoveForm, NoteForm
from jobs.history import event_lines
from jobs.models import Job, JobEvent, PartUse, Photo, Visit
from jobs.states import CLOSED_UNDONE, LIVE_VISITS, MOVABLE_VISITS, JobState
from shop.geo import Point, geo_uri
from vehicles.estimates import Estimate, quarters


@dataclass(slots=True)
class Ticket:
    """Everything on the page but the money, which a floor above adds."""

    job: Job
    visits: list[Visit]
    events: list[tuple[JobEvent, list[str]]]
    parts: list[PartUse]
    photos: list[Photo]
    comebacks: list[Job]
    phones: list[Any]
    window: str = ""
    left: str = ""
    geo: str = ""
    book: BookForm | None = None
    move: MoveForm | None = None
    close: CloseForm | None = None
    note: NoteForm = field(default_factory=NoteForm)
    estimate: Estimate | None = None

    @property
    def visit(self) -> Visit | None:
        return next((visit for visit in self.visits if visit.state in LIVE_VISITS), None)

    @property
    def makes_key(self) -> bool:
        return makes_key(self.job)

    @property
    def can_unbook(self) -> bool:
        return self.visit is not None and self.visit.state in MOVABLE_VISITS

    @property
    def can_reopen(self) -> bool:
        return self.job.state in CLOSED_UNDONE


def load_ticket(job: Job, *, forms: dict[str, Any] | None = None) -> Ticket:
    """A job with all that hangs on it, in a fixed number of queries."""
    job = Job.objects.select_related("customer", "vehicle", "comeback_of", "taken_by").get(pk=job.pk)
    ticket = Ticket(
        job=job,
        visits=list(job.visits.select_related("technician").order_by("during")),
        events=[(event, event_lines(event)) for event in job.events.select_related("by")],
        parts=list(job.parts.select_related("item", "movement__place").order_by("id")),
        photos=list(job.photos.order_by("taken_at", "id")),
        comebacks=list(job.comebacks.order_by("number")),
        phones=list(job.customer.phones.all()),
    )
    _add_words(ticket)
    _add_forms(ticket, forms or {})
    return ticket


def _add_words(ticket: Ticket) -> None:
    job, now = ticket.job, timezone.now()
    if job.promise_from and job.promise_until:
        zone = timezone.get_current_timezone()
        ticket.window = window_words(job.promise_from, job.promise_until, now=now, zone=zone)
        ticket.left = left_words(job.promise_until, now=now) if job.state not in ENDED else ""
    if job.latitude is not None and job.longitude is not None:
        ticket.geo = geo_uri(Point(job.latitude, job.longitude))


def _add_forms(ticket: Ticket, sent: dict[str, Any]) -> None:
    job, visit = ticket.job, ticket.visit
    if job.is_open:
        ticket.close = sent.get("close") or CloseForm()
    if job.state == JobState.WAITING:
        promised = job.promise_from if job.promise_from and job.promise_from > timezone.now() else None
        ticket.estimate = estimate_for(job.kind_of_work, vehicle=job.vehicle)
        start = promised or next_quarter(timezone.now())
        ticket.book = sent.get("book") or BookForm(initial={"start": start, "minutes": quarters(job.expected_minutes)})
    if visit:
        ticket.move = sent.get("move") or move_form(visit)
    ticket.note = sent.get("note") or ticket.note
