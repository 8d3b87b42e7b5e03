"""Reads one visit for its page on the phone."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote

from django.utils import timezone

from jobs.authority import makes_key, needs_check
from jobs.day.columns import Travel, point_of
from jobs.day.span import MINUTE
from jobs.models import AuthorityCheck, EventKind, Job, JobEvent, KeyStage, KeyWork, PartUse, Photo, Visit
from jobs.round.load import lateness, promise_words
from jobs.round.steps import MAKE_KEY, Step, next_step
from jobs.rules import Timing, expected_arrival
from jobs.states import OPEN_JOBS, KindOfWork, VisitState
from shop.geo import geo_uri
from shop.models import Shop
from shop.staff.models import Person

OFFICE_CHANGES = frozenset({EventKind.CHANGED, EventKind.MOVED, EventKind.REOPENED})
ENDINGS = frozenset({EventKind.CALLED_OFF, EventKind.TURNED_AWAY, EventKind.NO_ANSWER, EventKind.UNBOOKED})
CHANGED_WORDS = {
    "street": "the place",
    "town": "the place",
    "latitude": "the place",
    "longitude": "the place",
    "access_notes": "how to get in",
    "promise_from": "the promise",
    "promise_until": "the promise",
    "vehicle": "the vehicle",
    "kind_of_work": "the kind of work",
    "caller_phone": "the number to call",
    "caller_name": "the caller",
    "description": "what happened",
    "locked_in": "who is locked in",
    "owner_name": "the owner",
    "proof_offered": "the proof offered",
    "payer": "who pays",
}


@dataclass(slots=True)
class VisitPage:
    """Everything the page of one visit shows beside what stands on the visit, its job and vehicle."""

    visit: Visit
    step: Step | None
    promise: str
    late: str
    call_number: str
    message_link: str
    map_link: str
    news: list[str]
    ended: JobEvent | None
    events: list[JobEvent]
    notes: list[JobEvent]
    parts: list[PartUse]
    photos: list[Photo]
    key: KeyWork | None
    check: AuthorityCheck | None
    is_check_due: bool

    @property
    def job(self) -> Job:
        return self.visit.job

    @property
    def is_locked_in_shown(self) -> bool:
        """The caution stays until the work is over."""
        return self.job.is_emergency and self.job.state in OPEN_JOBS

    @property
    def makes_key(self) -> bool:
        """Whether the job ends with a key, so that its page leads to making it."""
        return makes_key(self.job)

    @property
    def can_finish_instead(self) -> bool:
        """Whether the finish stands beside a next step that is not needed for it, such as a key cut by other means."""
        return self.step is MAKE_KEY

    @property
    def key_words(self) -> str:
        """How far the key is, in a few words."""
        work = self.key
        if work is None:
            return "Not begun"
        if work.keys_cut:
            return f"{work.keys_cut} key{'' if work.keys_cut == 1 else 's'} cut"
        if work.stage == KeyStage.TRYING and work.left is not None:
            return f"{work.left:,} candidate{'' if work.left == 1 else 's'} left"
        return str(work.get_stage_display())

    @property
    def is_working(self) -> bool:
        """Once on site, what is recorded comes before what was told."""
        return self.visit.state in {VisitState.ON_SITE, VisitState.FINISHED}


def load_visit_page(visit: Visit, person: Person, *, now: datetime | None = None) -> VisitPage:
    """The page of a visit read `with_job`; events, parts and photos are one query each."""
    now = now or timezone.now()
    job = visit.job
    events = list(job.events.select_related("by"))
    parts = list(job.parts.select_related("item", "movement", "taken_back").order_by("id"))
    number = job.caller_phone or _first_number(job)
    timing, arrival = _expected(visit, now)
    check = AuthorityCheck.objects.of(job)
    key = KeyWork.objects.in_the_clear().filter(job=job).first() if makes_key(job) else None
    is_check_due = job.is_open and needs_check(job, check)
    return VisitPage(
        visit=visit,
        step=next_step(visit.state, is_check_due=is_check_due, is_key_due=_is_key_due(job, key)),
        promise=promise_words(job.promise_from, job.promise_until, now),
        late=lateness(timing, arrival, job.promise_until),
        call_number=number,
        message_link=_message_link(number, visit, arrival, person),
        map_link=_map_link(job),
        news=_news(events, person),
        ended=_ending(visit, events),
        events=events,
        notes=[event for event in events if event.kind == EventKind.NOTE],
        parts=[part for part in parts if part.taken_back_id is None],
        photos=list(job.photos.order_by("taken_at", "id")),
        key=key,
        check=check,
        is_check_due=is_check_due,
    )


def _is_key_due(job: Job, key: KeyWork | None) -> bool:
    """Where all keys are lost nobody can copy one: the key is found first."""
    return job.kind_of_work == KindOfWork.ALL_KEYS_LOST and makes_key(job) and not (key and key.keys_cut)


def _first_number(job: Job) -> str:
    return job.customer.phones.values_list("number", flat=True).first() or ""


def _expected(visit: Visit, now: datetime) -> tuple[Timing, datetime]:
    """From the shop, since the stop before is not read here: the round itself tells the drive between stops."""
    shop = Shop.current()
    travel = Travel(point_of(shop.latitude, shop.longitude), shop.drive_speed_kmh)
    drive = travel.between(travel.base, point_of(visit.job.latitude, visit.job.longitude)) * MINUTE
    timing = Timing(
        visit.state, visit.starts_at, visit.ends_at, drive, visit.set_off_at, visit.arrived_at, visit.finished_at
    )
    return timing, expected_arrival(timing, free_at=None, now=now)


def _message_link(number: str, visit: Visit, arrival: datetime, person: Person) -> str:
    """A message begun in the technician's name (RFC 5724); before the arrival it says when."""
    if not number:
        return ""
    words = f"This is {person.first_name} from {Shop.current().name}."
    if visit.state == VisitState.ON_THE_WAY:
        words += f" I am on the way to you and expect to be there about {timezone.localtime(arrival):%H:%M}."
    return f"sms:{number}?body={quote(words)}"


def _map_link(job: Job) -> str:
    """A geo: link with a pin on the place, or with its address when nobody knows where that is."""
    point = point_of(job.latitude, job.longitude)
    if point:
        at = geo_uri(point)
        return f"{at}?q={at.removeprefix('geo:')}({quote(job.place or f'Job {job.number}')})"
    return f"geo:0,0?q={quote(job.place)}" if job.place else ""


def _news(events: Iterable[JobEvent], person: Person) -> list[str]:
    """What others changed on the job since this technician last did something on it."""
    events = list(events)
    own = [event.recorded_at for event in events if event.by_id == person.pk]
    since = max(own, default=None)
    fresh = [
        event
        for event in events
        if event.kind in OFFICE_CHANGES and event.by_id != person.pk and (since is None or event.recorded_at > since)
    ]
    # Of several moves only the last one matters now.
    moves = [event for event in fresh if event.kind == EventKind.MOVED]
    fresh = [event for event in fresh if event not in moves[:-1]]
    return [words for event in fresh if (words := _change_words(event))]


def _change_words(event: JobEvent) -> str:
    who = event.by.first_name if event.by else "The office"
    at = f"{timezone.localtime(event.recorded_at):%H:%M}"
    if event.kind == EventKind.MOVED:
        return f"{who} moved this visit at {at}."
    if event.kind == EventKind.REOPENED:
        return f"{who} opened this job again at {at}."
    what = list(dict.fromkeys(CHANGED_WORDS[name] for name in event.details if name in CHANGED_WORDS))
    return f"{who} changed {_listed(what)} at {at}." if what else ""


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _ending(visit: Visit, events: list[JobEvent]) -> JobEvent | None:
    """What took this visit out of the round, when something did."""
    if visit.state != VisitState.CALLED_OFF:
        return None
    return next((event for event in reversed(events) if event.kind in ENDINGS), None)
