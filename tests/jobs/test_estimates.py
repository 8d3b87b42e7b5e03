"""Times on site: what is learned from, what is kept, and where it is shown."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from jobs import actions as jobs
from jobs.day.calls import call_of
from jobs.day.span import span_of
from jobs.estimates import estimate_for, finished_visits, is_due
from jobs.models import Job, TimeEstimate, Visit
from shop.staff.models import Person
from tests.cast import office, signed_in, technician
from tests.jobs.round_rows import visit_of
from vehicles.actions import add_vehicle
from vehicles.estimates import Observation, fit

pytestmark = pytest.mark.django_db

BOOK = {"lock_out": 30, "rekey": 55}
MINUTE = timedelta(minutes=1)


@pytest.fixture
def me() -> Person:
    return technician(name="Ida Marsh")


def worked(me: Person, minutes: float, *, hours: float = -5, **facts: Any) -> Visit:
    """A visit that took so long on site, on a Merrow Tern unless told otherwise."""
    finish = facts.pop("finish", {})
    visit = visit_of(me, hours=hours, **facts)
    visit = jobs.arrive(visit, actor=me, at=visit.starts_at)
    return jobs.finish_visit(visit, actor=me, at=visit.starts_at + minutes * MINUTE, **finish)


def learn(me: Person, *minutes: float) -> None:
    """A visit of each of these lengths, a day apart, and what the night makes of them."""
    for ago, took in enumerate(minutes, start=1):
        worked(me, took, hours=-24 * ago)
    jobs.store_estimates(usual=BOOK)


def test_finished_visits_are_minutes_on_site_with_what_and_who(
    me: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    worked(me, 42.5)
    worked(me, 20, hours=-8, with_vehicle=False, kind_of_work="rekey")
    now = timezone.now()
    with django_assert_num_queries(1):
        found = finished_visits(now - timedelta(days=1), now)
    assert found == [
        Observation(20, "rekey", "", "", me.pk),
        Observation(42.5, "lock_out", "Merrow", "Tern", me.pk),
    ]


def test_visits_that_tell_nothing_are_left_out(me: Person) -> None:
    worked(me, 30, finish={"needs_another_visit": True, "words": "Blank missing"})
    on_site = visit_of(me, hours=-2)
    jobs.arrive(on_site, actor=me, at=on_site.starts_at)
    visit_of(me, hours=3)
    worked(me, 30, hours=-24 * 40)
    now = timezone.now()
    assert finished_visits(now - timedelta(days=30), now) == []


def test_what_is_stored_is_what_was_fitted(me: Person) -> None:
    learn(me, 40, 44, 50, 61, 38, 47)
    now = timezone.now()
    model = fit(finished_visits(now - timedelta(days=30), now), usual=BOOK)
    cases: list[dict[str, Any]] = [{"make": "Merrow", "model": "Tern"}, {"make": "Merrow"}, {"make": "Other"}, {}]
    for asked in cases:
        for who in (None, me.pk):
            stored = estimate_for("lock_out", technician_id=who, **asked)
            assert stored == model.estimate(kind="lock_out", technician=who, **asked)
    assert estimate_for("rekey") == model.estimate(kind="rekey")


def test_rows_hold_every_level_with_its_jobs(me: Person) -> None:
    learn(me, 40, 44, 50)
    kept = {(row.level, row.make, row.model): row.jobs for row in TimeEstimate.objects.filter(kind_of_work="lock_out")}
    assert kept == {("kind", "", ""): 3, ("make", "merrow", ""): 3, ("model", "merrow", "tern"): 3}
    assert TimeEstimate.objects.get(level="shop").jobs == 3
    assert set(TimeEstimate.objects.filter(level="technician").values_list("technician", flat=True)) == {me.pk, None}


def test_estimate_is_one_query(me: Person, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    learn(me, 40, 44, 50)
    with django_assert_num_queries(1):
        said = estimate_for("lock_out", make=" MERROW", model="tern", technician_id=me.pk)
    assert said is not None and said.basis == "3 jobs on this model, 3 on this make, 3 of this kind"


def test_before_the_first_night_there_is_no_estimate() -> None:
    assert estimate_for("lock_out") is None


def test_no_history_is_the_price_book_in_a_wide_range() -> None:
    jobs.store_estimates(usual=BOOK)
    said = estimate_for("rekey")
    assert said is not None
    assert (said.minutes, said.jobs_behind) == (55, 0)
    assert said.low < 28 and said.high > 110


def test_forgotten_finish_hardly_moves_what_is_stored(me: Person) -> None:
    learn(me, 40, 44, 50, 38, 47)
    before = estimate_for("lock_out", make="Merrow", model="Tern")
    worked(me, 14 * 60, hours=-24 * 8)
    jobs.store_estimates(usual=BOOK)
    after = estimate_for("lock_out", make="Merrow", model="Tern")
    assert before and after and after.jobs_behind == 6
    assert after.minutes <= before.minutes * 1.3


def test_storing_again_replaces_every_row(me: Person) -> None:
    learn(me, 40, 44)
    rows = TimeEstimate.objects.count()
    later = timezone.now() + timedelta(minutes=1)
    assert jobs.store_estimates(usual=BOOK, at=later) == rows == TimeEstimate.objects.count()
    assert set(TimeEstimate.objects.values_list("computed_at", flat=True)) == {later}


@pytest.mark.parametrize(
    ("now", "due"),
    [
        ("2026-03-03T23:50", False),
        ("2026-03-04T02:59", False),
        ("2026-03-04T03:00", True),
        ("2026-03-06T12:00", True),  # the machine was off at night
    ],
)
def test_learning_is_due_once_a_night_after_three(now: str, due: bool) -> None:
    jobs.store_estimates(usual=BOOK, at=datetime.fromisoformat("2026-03-03T03:05:00+00:00"))
    with timezone.override("UTC"):
        assert is_due(datetime.fromisoformat(f"{now}:00+00:00")) is due


def test_learning_is_due_when_nothing_was_ever_learned() -> None:
    assert is_due(timezone.now())


def test_expected_minutes_follow_the_vehicle_unless_said_by_hand(me: Person) -> None:
    learn(me, 70, 75, 80, 72, 78, 74)
    expected = estimate_for("lock_out", make="Merrow", model="Tern")
    assert expected
    visit = visit_of(me, with_vehicle=False, expected_minutes=30)
    vehicle = add_vehicle(actor=None, customer=visit.job.customer, make="Merrow", model="Tern", plate="KLM 205")
    changed = jobs.change_job(visit.job, actor=me, vehicle=vehicle)
    assert changed.expected_minutes == expected.minutes > 50
    event = changed.events.filter(kind="changed").latest("id")
    assert event.details["expected_minutes"] == [30, expected.minutes]
    by_hand = jobs.change_job(changed, actor=me, vehicle=None, expected_minutes=25)
    assert by_hand.expected_minutes == 25
    assert jobs.change_job(by_hand, actor=me, street="2 Mill Lane").expected_minutes == 25


def test_visit_page_tells_how_long_such_work_takes(me: Person) -> None:
    learn(me, 40, 44, 50, 61, 38)
    visit = visit_of(me)
    said = estimate_for("lock_out", make="Merrow", model="Tern", technician_id=me.pk)
    assert said
    page = signed_in(me).get(reverse("jobs:visit", args=[visit.pk])).content.decode()
    assert f"{said.range_words.capitalize()} (5 jobs on this model)" in page


def waiting(me: Person, **facts: Any) -> Job:
    visit = visit_of(me, **facts)
    return jobs.unbook_visit(visit, actor=me)


def test_booking_proposes_the_expected_minutes_in_quarters_and_tells_why(me: Person) -> None:
    learn(me, 40, 44, 50, 61, 38)
    job = waiting(me, expected_minutes=52)
    desk: Client = signed_in(office())
    for page in (f"{reverse('jobs:day')}?job={job.number}", reverse("jobs:show", args=[job.number])):
        shown = desk.get(page, follow=True).content.decode()
        assert 'name="minutes" id="place-minutes" min="5" max="960" step="5" inputmode="numeric" value="60"' in shown
        assert "(5 jobs on this model)" in shown


def test_waiting_call_is_as_long_on_the_day_sheet_as_it_will_be_booked(me: Person) -> None:
    job = waiting(me, expected_minutes=31)
    now = timezone.now()
    zone = timezone.get_current_timezone()
    midnight = now.replace(hour=0, minute=0)
    span = span_of(now.date(), opens=midnight.time(), closes=midnight.time(), zone=zone, moments=[])
    row = Job.objects.filter(pk=job.pk).as_calls().get()
    assert call_of(row, span=span, now=now).length == 45
