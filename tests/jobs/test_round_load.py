"""The round as it is reckoned: order, the next one, drives, lateness, what is left over."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from jobs.actions import arrive, book_visit, finish_visit, set_off, take_call, unbook_visit
from jobs.models import Visit
from jobs.round import load_round
from shop.actions import change_shop
from shop.customers.actions import add_customer
from shop.models import Shop
from shop.staff.models import Person
from tests.cast import technician

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def visit_at(person: Person, start: datetime, minutes: int = 30, **facts: Any) -> Visit:
    customer = add_customer(actor=None, name="Ella Holmere")
    job = take_call(actor=None, customer=customer, kind_of_work=facts.pop("kind_of_work", "lock_out"), **facts)
    return book_visit(job, actor=None, technician=person, start=start, end=start + timedelta(minutes=minutes))


def test_round_holds_todays_visits_in_order_and_tomorrows_below() -> None:
    person, other = technician(), technician()
    later, sooner = visit_at(person, NOON + 2 * HOUR), visit_at(person, NOON + HOUR)
    morrow = visit_at(person, NOON + 24 * HOUR)
    visit_at(person, NOON + 48 * HOUR)
    visit_at(other, NOON + HOUR)
    unbook_visit(visit_at(person, NOON + 5 * HOUR), actor=None)
    shown = load_round(person, now=NOON)
    assert [stop.visit_id for stop in shown.open] == [sooner.pk, later.pk]
    assert [stop.visit_id for stop in shown.tomorrow] == [morrow.pk]
    assert [stop.is_next for stop in shown.open] == [True, False]
    assert shown.done == []


def test_next_is_what_is_under_way_even_when_it_was_booked_later() -> None:
    person = technician()
    visit_at(person, NOON - HOUR)
    driven = visit_at(person, NOON + HOUR)
    set_off(driven, actor=person, at=NOON)
    shown = load_round(person, now=NOON)
    assert shown.next and shown.next.visit_id == driven.pk
    assert shown.next.step and shown.next.step.label == "Arrive"


def test_finished_visits_lie_behind_and_only_todays() -> None:
    person = technician()
    for start in (NOON - 2 * HOUR, NOON - 26 * HOUR):
        done = visit_at(person, start)
        arrive(done, actor=person, at=start)
        finish_visit(done, actor=person, at=start + timedelta(minutes=20))
    shown = load_round(person, now=NOON)
    assert shown.open == [] and shown.next is None
    assert [stop.starts_at for stop in shown.done] == [NOON - 2 * HOUR]


def test_what_was_not_finished_yesterday_is_still_there() -> None:
    person = technician()
    left = visit_at(person, NOON - 20 * HOUR)
    shown = load_round(person, now=NOON)
    assert [(stop.visit_id, stop.is_left_over) for stop in shown.open] == [(left.pk, True)]


def test_drive_goes_from_the_shop_to_the_first_and_from_stop_to_stop() -> None:
    """A degree of latitude is 111.195 km on a sphere of 6,371.0088 km (IUGG mean radius): 0.09 degrees are 10.0 km.

    At 1.3 times the straight line and 60 km/h that is 13.01 minutes, begun ones counted whole.
    """
    change_shop(actor=None, latitude=Decimal("48.00"), longitude=Decimal("-30"), drive_speed_kmh=60)
    Shop.forget()
    person = technician()
    for hours, latitude in ((1, "48.09"), (2, "48.27")):
        visit_at(person, NOON + hours * HOUR, latitude=Decimal(latitude), longitude=Decimal("-30"))
    visit_at(person, NOON + 3 * HOUR)
    assert [stop.drive for stop in load_round(person, now=NOON).open] == [14, 27, 0]


@pytest.mark.parametrize(
    ("minutes_until_promise", "words"),
    [(-12, "12 min late"), (0, ""), (30, ""), (-60 * 24, "1 day late"), (None, "")],
)
def test_lateness_is_told_in_words(minutes_until_promise: int | None, words: str) -> None:
    """Without a drive the technician is there at once: late by what has passed of the promise."""
    person = technician()
    until = None if minutes_until_promise is None else NOON + timedelta(minutes=minutes_until_promise)
    visit_at(person, NOON - HOUR / 2, promise_from=until, promise_until=until)
    assert load_round(person, now=NOON).open[0].late == words


def test_arrival_too_late_is_told_of_a_finished_visit_too() -> None:
    person = technician()
    done = visit_at(person, NOON - 2 * HOUR, promise_from=NOON - 2 * HOUR, promise_until=NOON - 2 * HOUR)
    arrive(done, actor=person, at=NOON - 2 * HOUR + timedelta(minutes=7))
    finish_visit(done, actor=person, at=NOON - HOUR)
    assert load_round(person, now=NOON).done[0].late == "7 min late"


def test_day_is_the_shops_day() -> None:
    """03:00 UTC on 3 March is 23:00 on 2 March in Halifax (UTC-4 in winter, IANA time zone database)."""
    person = technician()
    late = visit_at(person, datetime(2026, 3, 3, 3, 0, tzinfo=UTC))
    with timezone.override("America/Halifax"):
        shown = load_round(person, now=datetime(2026, 3, 3, 1, 0, tzinfo=UTC))
    assert [stop.visit_id for stop in shown.open] == [late.pk]
    assert str(shown.day) == "2026-03-02"
