"""Set off, arrive, finish; times put right; parts taken and taken back on a job."""

from decimal import Decimal

import pytest
from django.core.files.base import ContentFile

from jobs.actions import (
    add_photo,
    arrive,
    close_job,
    correct_times,
    finish_visit,
    set_off,
    spoil_part,
    take_back_part,
    turn_back,
    use_part,
)
from jobs.errors import WrongState
from jobs.models import EventKind, Visit
from jobs.states import JobState, VisitState
from shop.errors import Refused
from shop.stock.actions import receive
from shop.stock.models import Balance, Item, ItemKind, Place, PlaceKind
from tests import cast
from tests.jobs.desk import at, booked, call
from tests.threads import at_once

pytestmark = pytest.mark.django_db


def worked() -> Visit:
    """A visit set off at 09:40, arrived at 10:05."""
    ines = cast.technician()
    visit = set_off(booked(ines, at("10:00")), actor=ines, at=at("09:40"))
    return arrive(visit, actor=ines, at=at("10:05"))


def test_a_visit_goes_on_the_way_on_site_finished_and_its_job_with_it() -> None:
    ines = cast.technician()
    visit = booked(ines, at("10:00"))
    states = []
    for step, clock in ((set_off, "09:40"), (arrive, "10:05"), (finish_visit, "10:50")):
        visit = step(visit, actor=ines, at=at(clock))
        states.append((visit.state, visit.job.state))
    assert states == [("on_the_way", "on_the_way"), ("on_site", "on_site"), ("finished", "finished")]
    visit.job.refresh_from_db()
    assert visit.job.finished_at == at("10:50")
    assert (visit.starts_at, visit.ends_at) == (at("10:00"), at("10:50")), "time not needed is given back"


def test_a_visit_that_overran_keeps_what_was_booked() -> None:
    visit = finish_visit(worked(), actor=None, at=at("11:40"))
    assert (visit.starts_at, visit.ends_at) == (at("10:00"), at("11:00"))


def test_arriving_without_having_set_off_is_taken() -> None:
    visit = arrive(booked(cast.technician(), at("10:00")), actor=None, at=at("10:02"))
    assert (visit.state, visit.set_off_at) == (VisitState.ON_SITE, None)


def test_turning_back_makes_the_visit_booked_again() -> None:
    visit = turn_back(set_off(booked(cast.technician(), at("10:00")), actor=None), actor=None)
    visit.job.refresh_from_db()
    assert (visit.state, visit.set_off_at, visit.job.state) == (VisitState.BOOKED, None, JobState.BOOKED)


def test_another_visit_needed_lets_the_job_wait_again() -> None:
    visit = finish_visit(worked(), actor=None, at=at("10:30"), needs_another_visit=True)
    visit.job.refresh_from_db()
    assert (visit.job.state, visit.job.finished_at) == (JobState.WAITING, None)
    booked(cast.technician(), at("14:00"), job=visit.job)
    assert visit.job.visits.count() == 2


def test_visit_done_before_its_booked_time_gives_nearly_all_of_it_back() -> None:
    technician = cast.technician()
    early = arrive(booked(technician, at("10:00")), actor=None, at=at("09:00"))
    done = finish_visit(early, actor=None, at=at("09:40"))
    assert (done.starts_at, done.ends_at) == (at("10:00"), at("10:05"))
    assert booked(technician, at("10:15")).technician == technician


@pytest.mark.parametrize("step", [set_off, turn_back, arrive, finish_visit])
def test_a_finished_visit_takes_no_step(step: object) -> None:
    visit = finish_visit(worked(), actor=None, at=at("10:30"))
    with pytest.raises(WrongState, match="finished"):
        step(visit, actor=None)  # type: ignore[operator]


def test_a_finish_before_the_arrival_is_refused() -> None:
    with pytest.raises(Refused, match="before the arrival"):
        finish_visit(worked(), actor=None, at=at("10:00"))


@pytest.mark.django_db(transaction=True)
def test_arriving_twice_at_once_is_one_arrival() -> None:
    visit = booked(cast.technician(), at("10:00"))
    results = at_once(lambda: arrive(visit, actor=None), lambda: arrive(visit, actor=None))
    assert sorted(type(result).__name__ for result in results) == ["Visit", "WrongState"]
    assert visit.job.events.filter(kind=EventKind.ARRIVED).count() == 1


def test_corrected_times_are_kept_with_old_and_new_and_move_the_jobs_finish() -> None:
    visit = finish_visit(worked(), actor=None, at=at("10:50"))
    fixed = correct_times(
        visit,
        actor=None,
        set_off_at=at("09:30"),
        arrived_at=at("10:05"),
        finished_at=at("10:40"),
        reason="Tapped late",
    )
    event = visit.job.events.get(kind=EventKind.TIMES_CORRECTED)
    fixed.job.refresh_from_db()
    assert fixed.job.finished_at == at("10:40")
    assert event.words == "Tapped late"
    assert set(event.details) == {"set_off_at", "finished_at"}


def test_times_not_yet_reached_or_out_of_order_are_refused() -> None:
    visit = worked()
    with pytest.raises(WrongState, match="not finished yet"):
        correct_times(visit, actor=None, set_off_at=None, arrived_at=at("10:05"), finished_at=at("10:30"))
    with pytest.raises(Refused, match="before setting off"):
        correct_times(visit, actor=None, set_off_at=at("10:10"), arrived_at=at("10:05"), finished_at=None)


def van_with(quantity: int) -> tuple[Item, Place]:
    item = Item.objects.create(number="TB-1", name="Transponder blank", kind=ItemKind.TRANSPONDER_BLANK, price=42)
    van = Place.objects.create(name="Van 1", kind=PlaceKind.VAN)
    receive(item, actor=None, place=van, quantity=quantity, unit_cost=Decimal("10.50"))
    return item, van


def test_parts_used_and_spoiled_leave_the_van_and_a_use_taken_back_returns() -> None:
    (item, van), visit = van_with(5), worked()
    used = use_part(visit.job, actor=None, item=item, quantity=2, place=van, visit=visit)
    spoiled = spoil_part(visit.job, actor=None, item=item, quantity=1, place=van, reason="miscut", visit=visit)
    assert (used.is_charged, spoiled.is_charged) == (True, False)
    assert Balance.objects.get(item=item, place=van).quantity == 2
    take_back_part(used, actor=None)
    assert Balance.objects.get(item=item, place=van).quantity == 4
    assert list(visit.job.parts.standing()) == [spoiled]
    with pytest.raises(Refused, match="taken back already"):
        take_back_part(used, actor=None)


def test_a_negative_quantity_and_a_job_called_off_take_no_parts() -> None:
    (item, van), job = van_with(5), call()
    with pytest.raises(Refused, match="at least one"):
        use_part(job, actor=None, item=item, quantity=-1, place=van)
    close_job(job, actor=None, state=JobState.CALLED_OFF, reason="Found the key")
    with pytest.raises(WrongState, match="called off"):
        use_part(job, actor=None, item=item, quantity=1, place=van)
    assert Balance.objects.get(item=item, place=van).quantity == 5


@pytest.mark.django_db(transaction=True)
def test_one_use_taken_back_by_two_returns_once() -> None:
    (item, van), job = van_with(5), call()
    used = use_part(job, actor=None, item=item, quantity=2, place=van)
    results = at_once(lambda: take_back_part(used, actor=None), lambda: take_back_part(used, actor=None))
    assert sorted(type(result).__name__ for result in results) == ["PartUse", "Refused"]
    assert Balance.objects.get(item=item, place=van).quantity == 5


def test_a_photo_is_kept_with_its_words(tmp_path: object, settings: object) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]
    photo = add_photo(call(), actor=None, file=ContentFile(b"\x89PNG", name="lock.png"), words=" The lock ")
    assert photo.words == "The lock"
    with photo.file.open() as kept:
        assert kept.read() == b"\x89PNG"
