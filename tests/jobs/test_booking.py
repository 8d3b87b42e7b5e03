"""Booking, moving, unbooking: what they write and what they refuse."""

import pytest

from jobs.actions import arrive, book_visit, finish_visit, move_visit, set_off, unbook_visit
from jobs.errors import AlreadyBooked, WrongState
from jobs.models import EventKind, Visit
from jobs.states import JobState, VisitState
from shop.errors import Refused
from shop.staff.actions import switch_off
from tests import cast
from tests.jobs.desk import MINUTE, at, booked, call

pytestmark = pytest.mark.django_db


def test_booking_makes_a_visit_and_tells_who_and_when() -> None:
    desk, ines, job = cast.office(), cast.technician(name="Ines Moor"), call()
    visit = book_visit(job, actor=desk, technician=ines, start=at("10:00"), end=at("11:00"))
    job.refresh_from_db()
    event = job.events.get(kind=EventKind.BOOKED)
    assert (visit.starts_at, visit.ends_at, job.state) == (at("10:00"), at("11:00"), JobState.BOOKED)
    assert (event.by, event.visit) == (desk, visit)
    assert event.details["technician"] == "Ines Moor"


def test_a_second_visit_in_the_same_time_is_refused_by_number_and_clock() -> None:
    ines, second = cast.technician(name="Ines Moor"), call()
    first = booked(ines, at("10:00"))
    with pytest.raises(AlreadyBooked, match=f"Ines Moor already has job {first.job.number} from 10:00 to 11:00"):
        book_visit(second, actor=None, technician=ines, start=at("10:45"), end=at("11:30"))
    second.refresh_from_db()
    assert second.state == JobState.WAITING
    assert not second.visits.exists()


def test_visits_that_only_touch_stand_beside_one_another() -> None:
    ines = cast.technician()
    booked(ines, at("10:00"))
    booked(ines, at("11:00"))
    booked(ines, at("09:00"))
    assert Visit.objects.count() == 3


def test_two_technicians_may_work_at_the_same_time() -> None:
    booked(cast.technician(), at("10:00"))
    booked(cast.technician(), at("10:00"))
    assert Visit.objects.count() == 2


def test_a_booked_job_is_not_booked_again() -> None:
    visit = booked(cast.technician(), at("10:00"))
    with pytest.raises(WrongState, match=r"already booked"):
        book_visit(visit.job, actor=None, technician=cast.technician(), start=at("12:00"), end=at("13:00"))


def test_nobody_books_somebody_who_is_not_a_technician_at_work() -> None:
    gone = cast.technician(name="Gone Away")
    switch_off(gone, actor=cast.owner())
    for someone in (cast.office(), gone):
        with pytest.raises(Refused, match=r"not a technician at work"):
            book_visit(call(), actor=None, technician=someone, start=at("10:00"), end=at("11:00"))


@pytest.mark.parametrize(("start", "end"), [("11:00", "10:00"), ("10:00", "10:00"), ("10:00", "10:04")])
def test_a_visit_needs_some_time(start: str, end: str) -> None:
    with pytest.raises(Refused):
        book_visit(call(), actor=None, technician=cast.technician(), start=at(start), end=at(end))


def test_a_visit_is_not_longer_than_a_long_day() -> None:
    with pytest.raises(Refused, match="sixteen hours"):
        book_visit(
            call(), actor=None, technician=cast.technician(), start=at("05:00"), end=at("05:00") + 16 * 60 * MINUTE * 2
        )


def test_moving_keeps_where_it_was() -> None:
    ines, bo = cast.technician(name="Ines Moor"), cast.technician(name="Bo Ray")
    visit = booked(ines, at("10:00"))
    moved = move_visit(visit, actor=None, technician=bo, start=at("12:00"), end=at("12:30"))
    event = visit.job.events.get(kind=EventKind.MOVED)
    assert (moved.technician, moved.starts_at, moved.ends_at) == (bo, at("12:00"), at("12:30"))
    assert event.details["before"]["technician"] == "Ines Moor"
    assert event.details["technician"] == "Bo Ray"


def test_a_refused_move_leaves_the_visit_in_its_place() -> None:
    ines = cast.technician()
    booked(ines, at("12:00"))
    visit = booked(ines, at("10:00"))
    with pytest.raises(AlreadyBooked):
        move_visit(visit, actor=None, technician=ines, start=at("11:30"), end=at("12:30"))
    visit.refresh_from_db()
    assert (visit.starts_at, visit.ends_at) == (at("10:00"), at("11:00"))
    assert not visit.job.events.filter(kind=EventKind.MOVED).exists()


def test_a_move_to_the_same_place_writes_nothing() -> None:
    ines = cast.technician()
    visit = booked(ines, at("10:00"))
    move_visit(visit, actor=None, technician=ines, start=at("10:00"), end=at("11:00"))
    assert not visit.job.events.filter(kind=EventKind.MOVED).exists()


def test_a_visit_moved_by_another_meanwhile_is_left_there() -> None:
    ines = cast.technician(name="Ines Moor")
    visit = booked(ines, at("10:00"))
    seen = (ines.pk, at("10:00"), at("11:00"))
    move_visit(visit, actor=None, technician=ines, start=at("14:00"), end=at("15:00"), seen=seen)
    with pytest.raises(WrongState, match="Ines Moor, 14:00 to 15:00"):
        move_visit(visit, actor=None, technician=ines, start=at("16:00"), end=at("17:00"), seen=seen)
    visit.refresh_from_db()
    assert visit.starts_at == at("14:00")


def test_a_visit_under_way_changes_only_its_end() -> None:
    ines = cast.technician()
    visit = arrive(set_off(booked(ines, at("10:00")), actor=ines), actor=ines)
    longer = move_visit(visit, actor=None, technician=ines, start=at("10:00"), end=at("12:00"))
    assert longer.ends_at == at("12:00")
    with pytest.raises(WrongState, match="only its end"):
        move_visit(visit, actor=None, technician=ines, start=at("11:00"), end=at("12:00"))
    with pytest.raises(WrongState, match="only its end"):
        move_visit(visit, actor=None, technician=cast.technician(), start=at("10:00"), end=at("12:00"))


def test_a_finished_visit_is_not_moved() -> None:
    ines = cast.technician()
    visit = arrive(booked(ines, at("10:00")), actor=ines, at=at("10:00"))
    finish_visit(visit, actor=ines, at=at("10:40"))
    with pytest.raises(WrongState, match="already finished"):
        move_visit(visit, actor=None, technician=ines, start=at("12:00"), end=at("13:00"))


def test_unbooking_frees_the_time_and_the_job_waits_again() -> None:
    ines = cast.technician()
    visit = booked(ines, at("10:00"))
    job = unbook_visit(visit, actor=None)
    assert job.state == JobState.WAITING
    assert Visit.objects.get(pk=visit.pk).state == VisitState.CALLED_OFF
    assert job.events.filter(kind=EventKind.UNBOOKED).exists()
    booked(ines, at("10:00"))


def test_a_visit_under_way_is_not_unbooked() -> None:
    ines = cast.technician()
    visit = set_off(booked(ines, at("10:00")), actor=ines)
    with pytest.raises(WrongState, match="already on the way"):
        unbook_visit(visit, actor=None)
