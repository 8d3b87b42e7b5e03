"""The round and the visit's page: who sees what, steps taken once, and what the office changed meanwhile."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from jobs.actions import arrive, change_job, close_job, move_visit, set_off, unbook_visit
from jobs.models import JobEvent, Visit
from jobs.states import VisitState
from shop.models import SentForm, Shop
from shop.staff.models import Person
from tests.cast import office, once_key, owner, signed_in, technician
from tests.jobs.round_rows import at, visit_of

pytestmark = pytest.mark.django_db

PAGES = ["visit", "visit_note", "visit_photo", "visit_vin", "visit_times", "parts"]


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater")


@pytest.fixture
def client(me: Person) -> Client:
    return signed_in(me)


def page_of(visit: Visit, name: str = "visit") -> str:
    return reverse(f"jobs:{name}", args=[visit.pk])


def step(client: Client, visit: Visit, name: str, **sent: str) -> str:
    """Taps a step; returns what the next page shows."""
    answer = client.post(page_of(visit, name), {"form_key": once_key(), **sent}, follow=True)
    return answer.content.decode()


@pytest.mark.parametrize("name", PAGES)
def test_pages_of_a_visit_are_its_technicians_alone(name: str, me: Person, client: Client) -> None:
    visit = visit_of(me)
    assert client.get(page_of(visit, name)).status_code == 200
    assert signed_in(technician()).get(page_of(visit, name)).status_code == 404
    assert signed_in(office()).get(page_of(visit, name)).status_code == 403
    assert signed_in(owner()).get(page_of(visit, name)).status_code == 403
    assert Client().get(page_of(visit, name)).status_code == 302
    assert client.get(reverse(f"jobs:{name}", args=[987654])).status_code == 404


@pytest.mark.parametrize("name", ["set_off", "arrive", "turn_back"])
def test_steps_are_posted_by_the_visits_technician_only(name: str, me: Person, client: Client) -> None:
    visit = visit_of(me)
    assert client.get(page_of(visit, name)).status_code == 405
    assert signed_in(technician()).post(page_of(visit, name)).status_code == 404
    assert signed_in(office()).post(page_of(visit, name)).status_code == 403
    visit.refresh_from_db()
    assert visit.state == VisitState.BOOKED


@pytest.mark.parametrize("rows", [1, 3])
def test_round_asks_the_database_the_same_for_any_number_of_visits(
    rows: int, me: Person, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(rows):
        visit_of(me, hours=-10 + number * 24 / 30)
    Shop.current()
    with django_assert_num_queries(3):
        assert client.get(reverse("jobs:round")).content.decode().count("Lock-out") >= rows


@pytest.mark.parametrize("notes", [1, 3])
def test_visit_asks_the_database_the_same_for_any_number_of_notes(
    notes: int, me: Person, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    visit = visit_of(me)
    for number in range(notes):
        client.post(page_of(visit, "visit_note"), {"words": f"Note {number}"})
    client.get(page_of(visit))
    with django_assert_num_queries(10):
        assert client.get(page_of(visit)).content.decode().count("Note ") >= notes


def test_round_without_visits_says_what_belongs_there(client: Client) -> None:
    shown = client.get(reverse("jobs:round")).content.decode()
    assert "No visits today" in shown and "as soon as the office books it" in shown


def test_visit_shows_what_was_told_and_how_to_reach_the_caller(me: Person, client: Client) -> None:
    visit = visit_of(
        me,
        owner_name="Ella Holmere",
        proof_offered="Registration in the glovebox",
        access_notes="Gate code 4471",
        latitude="48.100000",
        longitude="-30.200000",
    )
    shown = client.get(page_of(visit)).content.decode()
    for words in (
        "14 Mill Lane, Saltby",
        "KLM 204",
        "Keys on the seat.",
        "Gate code 4471",
        "Registration in the glove",
    ):
        assert words in shown
    assert 'href="tel:+12015550123"' in shown
    assert 'href="sms:+12015550123?body=This%20is%20Jonas%20from%20' in shown
    assert 'href="geo:48.100000,-30.200000?q=48.100000,-30.200000(14%20Mill%20Lane%2C%20Saltby)"' in shown


def test_somebody_locked_in_is_shown_before_everything_until_the_work_is_over(me: Person, client: Client) -> None:
    visit = visit_of(me, locked_in="child")
    caution = "caution-big"
    assert caution in client.get(page_of(visit)).content.decode()
    assert "A child locked in" in client.get(reverse("jobs:round")).content.decode()
    assert f'href="tel:{Shop.current().emergency_number}"' in client.get(page_of(visit)).content.decode()
    close_job(visit.job, actor=None, state="called_off", reason="Freed by the fire brigade")
    assert caution not in client.get(page_of(visit)).content.decode()


def test_steps_go_from_set_off_to_finish(me: Person, client: Client) -> None:
    visit = visit_of(me)
    assert ">Arrive<" in step(client, visit, "set_off")
    assert ">Finish<" in step(client, visit, "arrive")
    visit.refresh_from_db()
    assert (visit.state, visit.job.state) == (VisitState.ON_SITE, "on_site")
    assert visit.set_off_at and visit.arrived_at and visit.set_off_at <= visit.arrived_at
    assert f'href="/round/{visit.pk}/finish"' in client.get(page_of(visit)).content.decode()


def test_turn_back_books_the_visit_again(me: Person, client: Client) -> None:
    visit = visit_of(me)
    step(client, visit, "set_off")
    assert "Turned back" in step(client, visit, "turn_back")
    visit.refresh_from_db()
    assert (visit.state, visit.set_off_at) == (VisitState.BOOKED, None)


def test_double_tap_sets_off_once(me: Person, client: Client) -> None:
    visit, key = visit_of(me), once_key()
    for _ in range(2):
        step(client, visit, "set_off", form_key=key)
    assert visit.events.filter(kind="set_off").count() == 1
    assert SentForm.objects.filter(key=key).count() == 1


def test_same_step_from_a_second_page_is_told_as_done(me: Person, client: Client) -> None:
    visit = visit_of(me)
    step(client, visit, "set_off")
    assert "That was done already." in step(client, visit, "set_off")
    assert visit.events.filter(kind="set_off").count() == 1


def test_visit_moved_meanwhile_is_not_set_off_before_that_was_seen(me: Person, client: Client) -> None:
    visit = visit_of(me)
    seen = visit.starts_at.isoformat()
    start = at(5)
    move_visit(visit, actor=None, technician=me, start=start, end=start + timedelta(minutes=30))
    shown = step(client, visit, "set_off", seen_start=seen)
    assert "The office moved this visit to" in shown and "Nothing was changed" in shown
    visit.refresh_from_db()
    assert visit.state == VisitState.BOOKED
    assert ">Arrive<" in step(client, visit, "set_off", seen_start=visit.starts_at.isoformat())


@pytest.mark.parametrize("seen", ["", "yesterday", "2026-99-99T00:00", "2026-01-01T10:00"])
def test_unreadable_seen_start_is_no_error(seen: str, me: Person, client: Client) -> None:
    visit = visit_of(me)
    answer = client.post(page_of(visit, "set_off"), {"seen_start": seen})
    assert answer.status_code == 302


def test_visit_called_off_meanwhile_says_so_and_keeps_the_note(me: Person, client: Client) -> None:
    visit = visit_of(me)
    set_off(visit, actor=me)
    desk = office(name="Agnes Tolliver")
    close_job(visit.job, actor=desk, state="called_off", reason="Found the spare key.")
    shown = step(client, visit, "arrive")
    assert "This visit is called off" in shown
    assert "by Agnes Tolliver" in shown and "Found the spare key." in shown
    client.post(page_of(visit, "visit_note"), {"words": "Was at the gate already."})
    assert JobEvent.objects.filter(kind="note", words="Was at the gate already.").exists()


def test_visit_taken_out_of_the_round_says_so(me: Person, client: Client) -> None:
    visit = visit_of(me)
    unbook_visit(visit, actor=office(name="Agnes Tolliver"))
    assert "Taken out of your round" in client.get(page_of(visit)).content.decode()


def test_visit_given_to_somebody_else_shows_no_facts_but_what_was_typed(me: Person, client: Client) -> None:
    visit, other = visit_of(me, name="Secret Customer"), technician(name="Sadie Pemberley")
    move_visit(visit, actor=None, technician=other, start=visit.starts_at, end=visit.ends_at)
    answer = client.post(page_of(visit, "visit_note"), {"words": "Half of what I know <b>"})
    shown = answer.content.decode()
    assert answer.status_code == 404
    assert "Sadie Pemberley" in shown and "Half of what I know &lt;b&gt;" in shown
    assert "Secret Customer" not in shown and "Mill Lane" not in shown
    assert not JobEvent.objects.filter(kind="note").exists()
    # Somebody who never had it learns nothing at all.
    assert "Sadie" not in signed_in(technician()).get(page_of(visit)).content.decode()


def test_what_the_office_changed_is_told_until_the_technician_does_the_next_thing(me: Person, client: Client) -> None:
    visit = visit_of(me)
    change_job(visit.job, actor=office(name="Agnes Tolliver"), street="16 Mill Lane", access_notes="Ring twice")
    assert "Agnes changed the place and how to get in at" in client.get(page_of(visit)).content.decode()
    assert "Agnes changed" not in step(client, visit, "set_off")


def test_finished_page_offers_the_handover(me: Person, client: Client) -> None:
    visit = visit_of(me)
    arrive(visit, actor=me)
    Visit.objects.filter(pk=visit.pk).update(state=VisitState.FINISHED)
    assert f'href="/round/{visit.pk}/handover"' in client.get(page_of(visit)).content.decode()
