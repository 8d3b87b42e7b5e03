"""Pages of a run: who may open them, the variant asked first, a phone's queue, and the history of a family."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.actions import finish_visit
from jobs.actions.running import end_run
from jobs.models import Job, ProcedureRun, StepDone, Visit
from jobs.retention.erasing import empty_jobs
from jobs.running.history import load_history
from tests.cast import office, once_key, signed_in, technician
from tests.jobs.running.rows import DOORS, LEARN, SUPPLY, Car, car

pytestmark = pytest.mark.django_db
QUEUE: dict[str, Any] = {"headers": {"X-Queue": "1"}}


@pytest.fixture
def made() -> Car:
    return car()


@pytest.fixture
def phone(made: Car) -> Iterator[Client]:
    yield signed_in(made.me)


def address(made: Car, more: str = "") -> str:
    return f"/round/{made.visit.pk}/procedure{more}"


def test_the_variant_is_asked_before_the_procedure_is_offered(made: Car, phone: Client) -> None:
    page = phone.get(address(made)).content.decode()
    assert made.early.sign in page and made.late.sign in page and "Battery charger" not in page
    phone.post(address(made, f"/variant/{made.late.pk}"), {"form_key": once_key()})
    page = phone.get(address(made)).content.decode()
    assert "Battery charger" in page and "Keep one window down" in page and "12 to 14.8 V" in page
    phone.post(address(made, f"/begin/{made.version.pk}"), {"form_key": once_key()})
    assert ProcedureRun.objects.get().variant == made.late


def test_who_cannot_tell_the_variant_gets_the_familys_procedure(made: Car, phone: Client) -> None:
    page = phone.get(address(made, "?variant=unknown")).content.decode()
    assert "Battery charger" in page


def test_another_technician_finds_no_run(made: Car) -> None:
    run = made.begin()
    stranger = signed_in(technician())
    for more in ("", f"/{run.pk}", f"/{run.pk}/end"):
        assert stranger.get(address(made, more)).status_code == 404
    assert stranger.post(address(made, f"/{run.pk}/mark"), {}).status_code == 404
    assert signed_in(office()).get(address(made, f"/{run.pk}")).status_code == 403


def test_a_run_of_another_visit_is_not_there(made: Car, phone: Client) -> None:
    run = same_family(made).begin()
    assert phone.get(address(made, f"/{run.pk}")).status_code == 404


def test_a_queued_mark_is_taken_in_once_and_dated_by_its_age(made: Car, phone: Client) -> None:
    run = made.begin(at=timezone.now() - timedelta(hours=1))
    sent = {"step": made.step(SUPPLY).pk, "client_id": str(uuid4()), "measured": "12,6", "ago": "900", "note": "Warm"}
    for _ in range(2):
        assert phone.post(address(made, f"/{run.pk}/mark"), sent, **QUEUE).status_code == 200
    mark = StepDone.objects.get()
    age = timezone.now() - mark.at
    assert timedelta(minutes=15) <= age < timedelta(minutes=16) and mark.note == "Warm"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"measured": "1260"}, "Is 12.60 V meant?"),
        ({"measured": ""}, "Type what you measured."),
        ({"client_id": "none"}, "valid UUID"),
        ({"step": "99999999"}, "another procedure"),
        ({"ago": "nan"}, "number"),
    ],
)
def test_a_queued_mark_that_cannot_be_is_answered_in_words(
    made: Car, phone: Client, changed: dict[str, str], words: str
) -> None:
    run = made.begin()
    sent = {"step": str(made.step(SUPPLY).pk), "client_id": str(uuid4()), "measured": "12.6", **changed}
    answer = phone.post(address(made, f"/{run.pk}/mark"), sent, **QUEUE)
    assert answer.status_code == 422 and words in answer.json()["words"]
    assert not StepDone.objects.exists()


def test_a_plain_mark_that_is_refused_comes_back_with_what_was_typed(made: Car, phone: Client) -> None:
    run = made.begin()
    sent = {"step": made.step(SUPPLY).pk, "client_id": str(uuid4()), "measured": "1260"}
    answer = phone.post(address(made, f"/{run.pk}/mark"), sent)
    assert answer.status_code == 422 and 'value="1260"' in answer.content.decode()


def test_the_run_page_asks_the_database_the_same_for_few_marks_and_many(made: Car, phone: Client) -> None:
    run = made.begin()

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert phone.get(address(made, f"/{run.pk}")).status_code == 200
        return len(queries)

    asked()
    few = asked()
    made.mark(run, SUPPLY, measured="12.6")
    made.mark(run, DOORS)
    made.mark(run, SUPPLY, measured="12.5")
    assert asked() == few


def test_nothing_guarded_stands_on_the_run_page(made: Car, phone: Client) -> None:
    run = made.begin()
    page = phone.get(address(made, f"/{run.pk}"))
    assert made.job.vehicle and made.job.vehicle.vin not in page.content.decode()
    assert "no-store" in page["Cache-Control"]


def test_what_was_noted_goes_when_the_customer_is_erased(made: Car) -> None:
    run = made.begin()
    made.mark(run, DOORS, note="Mrs Holmere was in the car")
    empty_jobs(Job.objects.filter(pk=made.job.pk))
    assert StepDone.objects.get().note == ""


def finished(made: Car, *, minutes: int, outcome: str = "worked", why: str = "") -> Visit:
    """The car's visit over after so many minutes, with its run ended."""
    start = timezone.now() - timedelta(minutes=minutes)
    run = made.begin(at=start)
    told: dict[str, Any] = {"keys_learned": 1, "start_tried_with": 1, "immobilizer_light": "out"}
    end_run(run, actor=made.me, outcome=outcome, why=why, variant=made.late, **told)
    Visit.objects.filter(pk=made.visit.pk).update(arrived_at=start)
    visit = Visit.objects.with_job().get(pk=made.visit.pk)
    return finish_visit(visit, actor=made.me, at=timezone.now())


def test_what_came_of_it_is_told_of_the_family(made: Car) -> None:
    """Median, counts and the long one by hand."""
    others = [same_family(made) for _ in range(3)]
    for each, minutes in zip([made, *others], (50, 54, 130, 52), strict=True):
        finished(each, minutes=minutes, why="The battery was flat" if minutes == 130 else "")
    told = load_history(made.family.pk, "all_keys_lost")
    assert (told.jobs, told.first_time, told.usual, told.longest) == (4, 4, 53, 130)
    assert told.because == "The battery was flat"
    tables = dict(told.groups)
    assert (tables["Variant"][0].name, tables["Variant"][0].jobs, tables["Variant"][0].good) == ("Late box", 4, 4)
    assert sum(row.jobs for row in tables["Technician"]) == 4
    page = signed_in(office()).get(
        f"/jobs/history?family={made.family.pk}&kind=all_keys_lost", headers={"HX-Request": "true"}
    )
    words = " ".join(page.content.decode().split())
    assert "4 jobs (all keys lost), 4 first time, usually 53 min, once 2 h 10 because: The battery was flat" in words


def same_family(made: Car) -> Car:
    """Another car on site of the same family, with a technician of its own."""
    from tests.jobs.authority.rows import on_site, passed
    from vehicles.actions import set_family

    me = technician()
    visit = on_site(me, name="Somebody else")
    passed(visit)
    assert visit.job.vehicle
    set_family(visit.job.vehicle, actor=made.boss, family=made.family)
    visit = Visit.objects.with_job().get(pk=visit.pk)
    return Car(made.boss, me, visit, made.family, made.early, made.late, made.procedure)


def test_a_run_that_did_not_work_is_told_as_trouble_and_is_not_first_time(made: Car) -> None:
    finished(made, minutes=40, outcome="not", why="The box did not answer")
    told = load_history(made.family.pk)
    assert (told.jobs, told.first_time, told.troubles) == (1, 0, ("The box did not answer",))


def test_the_history_takes_two_queries_however_much_there_is(made: Car) -> None:
    finished(made, minutes=40)
    with CaptureQueriesContext(connection) as one:
        load_history(made.family.pk, "all_keys_lost")
    for _ in range(2):
        finished(same_family(made), minutes=45)
    with CaptureQueriesContext(connection) as three:
        load_history(made.family.pk, "all_keys_lost")
    assert len(one) == len(three) == 2


@pytest.mark.parametrize("query", ["", "?family=", "?family=x&kind=nothing", "?family=999999", "?family=%00"])
def test_a_history_of_nothing_says_so(query: str) -> None:
    page = signed_in(office()).get(f"/jobs/history{query}")
    assert page.status_code == 200 and "Not done here yet" in page.content.decode()


def test_an_uninterruptible_step_is_refused_on_the_page_too(made: Car, phone: Client) -> None:
    run = made.begin()
    made.mark(run, SUPPLY, measured="11.8")
    sent = {"step": made.step(LEARN).pk, "client_id": str(uuid4()), "reason": "In a hurry"}
    assert phone.post(address(made, f"/{run.pk}/mark"), sent, **QUEUE).status_code == 422
    assert not StepDone.objects.filter(step=made.step(LEARN)).exists()
