"""The same slot in the same instant: exactly one stands, the others read why, nobody meets an error."""

from collections import Counter
from collections.abc import Callable
from datetime import datetime
from itertools import pairwise

import pytest
from django.http import HttpResponse
from django.http.response import HttpResponseBase

from jobs.actions import book_visit, move_visit
from jobs.errors import AlreadyBooked, WrongState
from jobs.models import Job, Visit
from jobs.states import JobState
from shop.staff.models import Person
from tests import cast
from tests.jobs.desk import MINUTE, at, booked, call, shop
from tests.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)

THREADS = 20
# Starts every ten minutes for half an hour each, so that each slot overlaps its neighbours.
STARTS = [at("08:00") + 10 * number * MINUTE for number in range(THREADS)]
LENGTH = 30 * MINUTE


def check_what_stands(technician: Person) -> set[datetime]:
    """Standing visits do not overlap, and every slot that was refused overlaps one that stands."""
    standing = list(Visit.objects.filter(technician=technician).order_by("during"))
    assert all(first.ends_at <= second.starts_at for first, second in pairwise(standing))
    taken = {visit.starts_at for visit in standing}
    refused = set(STARTS) - taken
    assert all(any(abs(start - other) < LENGTH for other in taken) for start in refused)
    assert Job.objects.filter(state=JobState.BOOKED).count() == len(standing)
    assert Job.objects.filter(state=JobState.WAITING).count() == THREADS - len(standing)
    return taken


def booking(job: Job, technician: Person, start: datetime) -> Callable[[], Visit]:
    return lambda: book_visit(job, actor=None, technician=technician, start=start, end=start + LENGTH)


def test_of_twenty_overlapping_bookings_exactly_those_that_fit_stand() -> None:
    ines = cast.technician()
    results = at_once(*(booking(call(), ines, start) for start in STARTS))
    taken = check_what_stands(ines)
    assert {result.starts_at for result in results if isinstance(result, Visit)} == taken
    others = [result for result in results if not isinstance(result, Visit)]
    assert all(isinstance(other, AlreadyBooked) for other in others), others


def test_of_twenty_bookings_of_four_slots_exactly_four_stand() -> None:
    ines = cast.technician()
    slots = [at("08:00"), at("09:00"), at("10:00"), at("11:00")] * 5
    results = at_once(*(booking(call(), ines, start) for start in slots))
    assert Counter(type(result) for result in results) == {Visit: 4, AlreadyBooked: 16}


def test_one_job_booked_by_many_at_once_has_one_visit() -> None:
    job, people = call(), [cast.technician() for _ in range(6)]
    results = at_once(*(booking(job, person, at("09:00")) for person in people))
    assert Counter(type(result) for result in results) == {Visit: 1, WrongState: 5}
    assert job.visits.count() == 1


def test_two_who_swap_places_at_once_meet_no_deadlock() -> None:
    ines, bo = cast.technician(), cast.technician()
    first, second = booked(ines, at("09:00")), booked(bo, at("09:00"))
    results = at_once(
        lambda: move_visit(first, actor=None, technician=bo, start=at("09:00"), end=at("10:00")),
        lambda: move_visit(second, actor=None, technician=ines, start=at("09:00"), end=at("10:00")),
    )
    assert all(isinstance(result, Visit | AlreadyBooked) for result in results), results


def test_one_visit_dragged_by_two_goes_where_the_first_put_it() -> None:
    ines = cast.technician()
    visit = booked(ines, at("09:00"))
    seen = (ines.pk, visit.starts_at, visit.ends_at)

    def drag(start: datetime) -> Callable[[], Visit]:
        return lambda: move_visit(visit, actor=None, technician=ines, start=start, end=start + LENGTH, seen=seen)

    results = at_once(drag(at("12:00")), drag(at("15:00")))
    assert Counter(type(result) for result in results) == {Visit: 1, WrongState: 1}


def test_twenty_browsers_booking_overlapping_slots_are_answered_in_words() -> None:
    shop()
    ines = cast.technician()
    clients = [cast.signed_in(cast.office()) for _ in range(THREADS)]
    jobs = [call() for _ in range(THREADS)]

    def send(number: int) -> Callable[[], HttpResponseBase]:
        sent = {
            "technician": ines.pk,
            "start": STARTS[number].isoformat(),
            "minutes": 30,
            "day": "2026-03-03",
            "form_key": cast.once_key(),
        }
        return lambda: clients[number].post(f"/jobs/{jobs[number].number}/book", sent)

    answers = at_once(*(send(number) for number in range(THREADS)))
    taken = check_what_stands(ines)
    codes = Counter(answer.status_code if isinstance(answer, HttpResponse) else repr(answer) for answer in answers)
    assert codes == {302: len(taken), 422: THREADS - len(taken)}
    refused = [answer for answer in answers if isinstance(answer, HttpResponse) and answer.status_code == 422]
    assert all("already has job" in answer.content.decode() for answer in refused)
