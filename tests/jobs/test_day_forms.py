"""The day sheet's forms: booking, moving, unbooking, closing, and taking each back."""

from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from jobs.models import Job, Visit
from jobs.states import JobState
from tests import cast
from tests.jobs.desk import at, booked, call, on_shift, shop

pytestmark = pytest.mark.django_db
PAGE = "/day/2026-03-03"
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def tuesday() -> None:
    shop()


@pytest.fixture
def desk() -> Client:
    return cast.signed_in(cast.office())


def place(technician: Any, start: str = "10:00", minutes: int = 60, **more: Any) -> dict[str, Any]:
    """The fields of the booking form."""
    return {"technician": technician.pk, "start": f"2026-03-03T{start}", "minutes": minutes, **more}


def test_booking_by_form_leads_back_to_the_sheet_and_tells_it_with_undo(desk: Client) -> None:
    ines, job = on_shift(name="Ines Moor"), call()
    answer = desk.post(f"/jobs/{job.number}/book", place(ines, day="2026-03-03"), follow=True)
    assert answer.redirect_chain == [(f"{PAGE}?job={job.number}", 302)]
    visit = Visit.objects.get()
    page = answer.content.decode()
    assert f"Job {job.number} is booked: Ines Moor, Tue 3 Mar 10:00 to 11:00." in page
    assert f'action="/visits/{visit.pk}/unbook?day=2026-03-03"' in page


def test_a_form_sent_twice_books_once(desk: Client) -> None:
    ines, job = on_shift(), call()
    sent = place(ines, day="2026-03-03", form_key=cast.once_key())
    answers = [desk.post(f"/jobs/{job.number}/book", sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert Visit.objects.count() == 1


def test_a_clash_is_shown_beside_what_was_typed_and_the_call_still_waits(desk: Client) -> None:
    ines, job = on_shift(name="Ines Moor"), call()
    first = booked(ines, at("10:00"))
    answer = desk.post(f"/jobs/{job.number}/book", place(ines, "10:30", 45, day="2026-03-03"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"Ines Moor already has job {first.job.number} from 10:00 to 11:00. Nothing was changed." in page
    assert 'value="2026-03-03T10:30"' in page
    assert 'value="45"' in page
    assert f'id="call-{job.number}"' in page


def test_a_drag_that_clashes_is_told_in_a_toast_with_the_sheet_as_it_is(desk: Client) -> None:
    ines = on_shift(name="Ines Moor")
    booked(ines, at("10:00"))
    visit = booked(ines, at("14:00"))
    sent = place(ines, "10:15", day="2026-03-03", by_hand="1", job="")
    answer = desk.post(f"/visits/{visit.pk}/move", sent, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Nothing was changed" in answer.headers["HX-Trigger-After-Settle"]
    assert f'id="visit-{visit.pk}" href="?job={visit.job.number}" draggable="false" data-at="84"' in page
    assert "Choose a call or a visit" in page


@pytest.mark.parametrize("action", ["move", "unbook"])
def test_undo_puts_a_visit_back_where_it_was(desk: Client, action: str) -> None:
    ines, bo = on_shift(), on_shift()
    visit = booked(ines, at("10:00"))
    answer = desk.post(f"/visits/{visit.pk}/{action}", place(bo, "15:00", 30, day="2026-03-03"), headers=HTMX)
    undo = answer.headers["HX-Trigger-After-Settle"].split('"undo": "')[1].split('"')[0]
    assert not Visit.objects.standing().filter(technician=ines).exists()
    desk.post(undo, {"form_key": cast.once_key(), "by_hand": "1"}, headers=HTMX)
    back = Visit.objects.standing().get()
    assert (back.technician, back.starts_at, back.ends_at) == (ines, at("10:00"), at("11:00"))
    assert back.job.state == JobState.BOOKED


def test_an_undo_that_comes_too_late_leaves_what_another_did(desk: Client) -> None:
    ines = on_shift()
    visit = booked(ines, at("10:00"))
    answer = desk.post(f"/visits/{visit.pk}/move", place(ines, "12:00", day="2026-03-03"), headers=HTMX)
    undo = answer.headers["HX-Trigger-After-Settle"].split('"undo": "')[1].split('"')[0]
    desk.post(f"/visits/{visit.pk}/move", place(ines, "15:00", day="2026-03-03"))
    late = desk.post(undo, {"by_hand": "1"}, headers=HTMX)
    visit.refresh_from_db()
    assert late.status_code == 422
    assert "moved this visit meanwhile" in late.headers["HX-Trigger-After-Settle"]
    assert visit.starts_at == at("15:00")


def test_a_job_is_closed_noted_and_reopened_from_the_sheet(desk: Client) -> None:
    job = call()
    sent = {"day": "2026-03-03", "words": "Rang back.", "state": "called_off", "reason": "Found the key"}
    for action in ("note", "close"):
        assert desk.post(f"/jobs/{job.number}/{action}", sent).status_code == 302
    job.refresh_from_db()
    assert (job.state, job.events.filter(words="Rang back.").count()) == (JobState.CALLED_OFF, 1)
    assert desk.post(f"/jobs/{job.number}/reopen", {"day": "2026-03-03"}).status_code == 302
    again = desk.post(f"/jobs/{job.number}/reopen", {"day": "2026-03-03"})
    assert again.status_code == 422
    assert f"Job {job.number} was not closed." in again.content.decode()


def test_a_refused_close_keeps_what_was_typed_and_says_what_is_missing(desk: Client) -> None:
    job = call()
    answer = desk.post(f"/jobs/{job.number}/close", {"day": "2026-03-03", "reason": "Found the key"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Say which of the three it was." in page
    assert 'value="Found the key"' in page
    assert Job.objects.get(pk=job.pk).state == JobState.WAITING


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"start": "", "minutes": "60"}, "This field is required."),
        ({"start": "noon", "minutes": "60"}, "Give a day and a time."),
        ({"start": "0001-01-01T10:00", "minutes": "60"}, "Check the year."),
        ({"start": "2026-03-03T10:00", "minutes": "-5"}, "At least 5."),
        ({"start": "2026-03-03T10:00", "minutes": "100000"}, "At most 960."),
    ],
)
def test_nonsense_in_the_booking_form_is_answered_in_words(desk: Client, sent: dict[str, str], words: str) -> None:
    ines, job = on_shift(), call()
    answer = desk.post(f"/jobs/{job.number}/book", {"technician": ines.pk, "day": "2026-03-03", **sent})
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_a_time_that_the_clocks_leave_out_is_refused_and_one_lived_twice_is_the_first(desk: Client) -> None:
    # Europe/Berlin by Directive 2000/84/EC: 02:30 on 29 March 2026 does not exist, on 25 October it is lived twice.
    shop(time_zone="Europe/Berlin")
    ines, job = on_shift(), call()
    spring = {"technician": ines.pk, "start": "2026-03-29T02:30", "minutes": 60, "day": "2026-03-29"}
    refused = desk.post(f"/jobs/{job.number}/book", spring)
    assert refused.status_code == 422
    assert "There is no 02:30 on that day: the clocks go forward." in refused.content.decode()
    desk.post(f"/jobs/{job.number}/book", {**spring, "start": "2026-10-25T02:30"})
    assert Visit.objects.get().starts_at == datetime.fromisoformat("2026-10-25T00:30:00+00:00")
    assert desk.get("/day/2026-10-25").content.decode().count("<sup>00</sup>") == 19


def test_strangers_and_wrong_methods_meet_their_answers() -> None:
    visit = booked(on_shift(), at("10:00"))
    urls = [f"/visits/{visit.pk}/move", f"/visits/{visit.pk}/unbook"]
    urls += [f"/jobs/{visit.job.number}/{name}" for name in ("book", "close", "reopen", "note")]
    desk, technician = cast.signed_in(cast.office()), cast.signed_in(visit.technician)
    for url in urls:
        assert desk.get(url).status_code == 405
        assert technician.post(url).status_code == 403
        assert Client().post(url).status_code == 302
    for url in ("/visits/99999/move", "/visits/99999/unbook", "/jobs/99999/book", "/jobs/99999/note"):
        assert desk.post(url).status_code == 404
