"""What is measured of the day sheet and the round, on a busy day of a large shop."""

from dataclasses import dataclass
from uuid import uuid4

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.bench import build_day
from jobs.bench_live import news_times
from jobs.models import Visit
from shop.bench import Ask, Bench, Result, baseline, baseline_ask, figure
from shop.middleware import shop_zone
from shop.staff.access import StaffRequest
from shop.staff.actions import add_person
from shop.staff.models import Person
from shop.staff.roles import Role

ROWS = 60


@baseline("B1")
@require_safe
def sixty_rows(request: StaffRequest) -> HttpResponse:
    """A page of 60 rows from one query that joins three tables."""
    visits = Visit.objects.select_related("job__customer", "technician").order_by("id")[:ROWS]
    return render(request, "jobs/bench_rows.html", {"visits": visits})


@dataclass(frozen=True)
class Day:
    """Who is asked as, on the measured day."""

    office: Person
    technician: Person
    visit: Visit


def the_day(bench: Bench) -> Day:
    """8 technicians, 60 visits, 20 waiting calls, today in the shop's zone."""
    return bench.once("day", _make_day)


@transaction.atomic
def _make_day() -> Day:
    with timezone.override(shop_zone()):
        technicians = build_day(timezone.localdate())
    office = add_person(
        actor=None, name="Bench Office", email="office@bench.example", roles=[Role.OFFICE], password=None
    )
    return Day(office, technicians[0], Visit.objects.filter(technician=technicians[0]).earliest("id"))


def against_rows(bench: Bench, path: str, person: Person, *, most: float, queries: int | None = None) -> Result:
    """A page against B1: holds when its p95 is at most `most` times B1's, and it takes at most `queries`."""
    page, rows = bench.side_by_side(Ask(path), baseline_ask("B1"), person=person)
    took = bench.queries(path, person)
    words = f"{page.p95:.1f} ms = {page.p95 / rows.p95:.2f} x B1 (medians {page.median:.1f} and {rows.median:.1f} ms)"
    return Result(f"{words}, {took} queries", page.p95 <= most * rows.p95 and (queries is None or took <= queries))


@figure("day sheet, whole page, p95", bound="2 x B1, at most 12 queries", order=10)
def day_sheet(bench: Bench) -> Result:
    """8 technicians, 60 visits, 20 waiting."""
    return against_rows(bench, reverse("jobs:day"), the_day(bench).office, most=2, queries=12)


@figure("round on the phone, p95", bound="1.5 x B1", order=11)
def round_page(bench: Bench) -> Result:
    """One technician's visits of that day."""
    return against_rows(bench, reverse("jobs:round"), the_day(bench).technician, most=1.5)


@figure("job page on the phone, p95", bound="1.5 x B1", order=12)
def visit_page(bench: Bench) -> Result:
    """One visit of the round."""
    day = the_day(bench)
    return against_rows(bench, reverse("jobs:visit", args=[day.visit.pk]), day.technician, most=1.5)


@figure("a phone action acknowledged (durable), p95", bound="3 x B2", order=13)
def phone_action(bench: Bench) -> Result:
    """A note: the form's key and the event are committed before the answer."""
    day = the_day(bench)
    note = Ask(
        reverse("jobs:visit_note", args=[day.visit.pk]),
        lambda: {"words": "All keys tried, owner shown.", "form_key": str(uuid4())},
        {"HX-Request": "true"},
    )
    action, row = bench.side_by_side(note, baseline_ask("B2"), person=day.technician)
    words = (
        f"{action.p95:.1f} ms = {action.p95 / row.p95:.2f} x B2 (medians {action.median:.1f} and {row.median:.1f} ms)"
    )
    return Result(words, action.p95 <= 3 * row.p95)


@figure("commit to shown on 200 live screens, p95", bound="300 ms", order=14)
def live_screens(bench: Bench) -> Result:
    """A note is committed; each of 200 open streams gets the news."""
    day = the_day(bench)
    times = news_times(bench.program.port, day.office, day.visit.job, screens=200, changes=40)
    return Result(f"{times.p95:.0f} ms (median {times.median:.0f} ms, {len(times.all_ms)} arrivals)", times.p95 <= 300)
