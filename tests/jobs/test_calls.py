"""A call becomes a job; a job is changed, closed, reopened, noted."""

from uuid import uuid4

import pytest

from jobs.actions import add_note, change_job, close_job, drop_draft, keep_draft, reopen_job, take_call
from jobs.errors import WrongState
from jobs.models import CallDraft, EventKind, Job
from jobs.states import JobState, KindOfWork, LockedIn, VisitState
from shop.customers.actions import add_customer
from shop.errors import Refused
from tests import cast
from tests.jobs.desk import at, booked, call
from tests.threads import at_once
from vehicles.actions import add_vehicle

pytestmark = pytest.mark.django_db


def test_a_call_becomes_the_next_numbered_job_in_state_waiting() -> None:
    desk = cast.office()
    first, second = call(), call(locked_in=LockedIn.CHILD)
    assert second.number == first.number + 1
    assert (first.state, first.is_open) == (JobState.WAITING, True)
    third = take_call(actor=desk, customer=first.customer, kind_of_work=KindOfWork.REKEY, called_at=at("06:30"))
    event = third.events.get()
    assert (event.kind, event.at, event.by) == (EventKind.TAKEN, at("06:30"), desk)
    assert second.events.get().words == "A child locked in."


def test_a_vehicle_of_somebody_else_is_refused() -> None:
    other = add_customer(actor=None, name="Somebody Else")
    vehicle = add_vehicle(actor=None, customer=other, plate="KLM 204")
    with pytest.raises(Refused, match="another customer"):
        call(vehicle=vehicle)
    assert not Job.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_calls_taken_at_once_get_numbers_without_gap_or_repeat() -> None:
    customer = add_customer(actor=None, name="Ada Vermeer")
    jobs = at_once(*(lambda: call(customer=customer) for _ in range(8)))
    numbers = sorted(job.number for job in jobs if isinstance(job, Job))
    assert numbers == list(range(numbers[0], numbers[0] + 8))


def test_a_draft_keeps_the_last_typed_and_can_be_dropped() -> None:
    desk, key = cast.office(), uuid4()
    keep_draft(key, actor=desk, typed={"name": "Ad"})
    keep_draft(key, actor=cast.office(), typed={"name": "Ada"})
    draft = CallDraft.objects.get()
    assert (draft.typed, draft.started_by) == ({"name": "Ada"}, desk)
    drop_draft(key, actor=desk)
    assert not CallDraft.objects.exists()


def test_changed_facts_are_kept_with_old_and_new() -> None:
    job = call(street="Mill Lane 14", promise_from=at("10:00"), promise_until=at("11:00"))
    change_job(job, actor=cast.office(), street="Quay Street 2", promise_from=at("10:30"), town="")
    job.refresh_from_db()
    details = job.events.get(kind=EventKind.CHANGED).details
    assert (job.street, job.promise_from) == ("Quay Street 2", at("10:30"))
    assert details == {
        "street": ["Mill Lane 14", "Quay Street 2"],
        "promise_from": ["2026-03-03T10:00:00+00:00", "2026-03-03T10:30:00+00:00"],
    }


def test_nothing_changed_writes_nothing() -> None:
    job = call(street="Mill Lane 14")
    change_job(job, actor=None, street="Mill Lane 14")
    assert job.events.count() == 1


@pytest.mark.parametrize("state", [JobState.CALLED_OFF, JobState.TURNED_AWAY, JobState.NO_ANSWER])
def test_a_job_closed_without_its_work_frees_its_visit(state: JobState) -> None:
    visit = booked(cast.technician(), at("10:00"))
    job = close_job(visit.job, actor=None, state=state, reason=" Found the key. ")
    visit.refresh_from_db()
    assert (job.state, job.closed_reason, visit.state) == (state, "Found the key.", VisitState.CALLED_OFF)
    assert job.events.filter(kind=state.value, words="Found the key.").count() == 1


def test_closing_demands_a_reason_an_open_job_and_one_of_three_states() -> None:
    job = call()
    with pytest.raises(Refused, match="Say why"):
        close_job(job, actor=None, state=JobState.CALLED_OFF, reason="  ")
    with pytest.raises(WrongState):
        close_job(job, actor=None, state=JobState.FINISHED, reason="Done")
    close_job(job, actor=None, state=JobState.NO_ANSWER, reason="Rang twice")
    with pytest.raises(WrongState, match="already no answer"):
        close_job(job, actor=None, state=JobState.CALLED_OFF, reason="Again")


def test_a_closed_job_can_wait_again_and_an_open_one_cannot_be_reopened() -> None:
    job = call()
    with pytest.raises(WrongState, match="was not closed"):
        reopen_job(job, actor=None)
    close_job(job, actor=None, state=JobState.CALLED_OFF, reason="Found the key")
    again = reopen_job(job, actor=None)
    assert (again.state, again.closed_reason) == (JobState.WAITING, "")
    assert again.events.filter(kind=EventKind.REOPENED).exists()


@pytest.mark.django_db(transaction=True)
def test_closing_and_booking_at_once_leave_one_of_the_two() -> None:
    job, ines = call(), cast.technician()
    results = at_once(
        lambda: close_job(job, actor=None, state=JobState.CALLED_OFF, reason="Found the key"),
        lambda: booked(ines, at("10:00"), job=job),
    )
    job.refresh_from_db()
    # Either the booking came first and was closed with its job, or it was refused.
    assert job.state == JobState.CALLED_OFF
    assert not job.visits.exclude(state=VisitState.CALLED_OFF).exists()
    assert all(not isinstance(result, Exception) or isinstance(result, WrongState) for result in results), results


def test_a_note_is_kept_with_who_wrote_it_and_an_empty_one_refused() -> None:
    desk, job = cast.office(), call()
    add_note(job, actor=desk, words="  Dog in the yard. ")
    note = job.events.get(kind=EventKind.NOTE)
    assert (note.words, note.by) == ("Dog in the yard.", desk)
    with pytest.raises(Refused):
        add_note(job, actor=desk, words="  ")
