"""Parts used and spoiled from the phone, out of the technician's own van."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from jobs.actions import close_job, use_part
from jobs.models import PartUse
from jobs.states import KindOfWork
from shop.staff.models import Person
from shop.stock.actions import receive
from shop.stock.models import Balance, Item, Movement, Place
from tests.cast import once_key, signed_in, technician
from tests.jobs.round_rows import visit_of
from tests.shop.stock.stock_rows import item, shelf, van

pytestmark = pytest.mark.django_db


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater")


@pytest.fixture
def mine(me: Person) -> Place:
    return van("Van 1", me)


@pytest.fixture
def client(me: Person) -> Client:
    return signed_in(me)


def held(kept: Item, place: Place) -> int:
    return Balance.objects.get(item=kept, place=place).quantity


def filled(place: Place, quantity: int = 3, **facts: str) -> Item:
    kept = item(**facts)
    receive(kept, actor=None, place=place, quantity=quantity, unit_cost=Decimal("2.50"))
    return kept


def test_one_tap_uses_one_out_of_the_own_van(me: Person, mine: Place, client: Client) -> None:
    visit, kept = visit_of(me), filled(mine)
    sent = {"form_key": once_key(), "quantity": "1", "outcome": "used"}
    for _ in range(2):
        answer = client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), sent)
    assert answer["Location"] == reverse("jobs:parts", args=[visit.pk])
    part = PartUse.objects.get()
    assert (part.job, part.visit, part.quantity, part.is_charged) == (visit.job, visit, 1, True)
    assert part.movement.place == mine and part.movement.by == me
    assert held(kept, mine) == 2


@pytest.mark.parametrize(
    ("outcome", "kind", "reason", "is_charged"),
    [
        ("used_free", "used", "", False),
        ("miscut", "spoiled", "miscut", False),
        ("not_programmed", "spoiled", "not_programmed", False),
        ("trial", "spoiled", "trial", False),
        ("damaged", "spoiled", "damaged", False),
    ],
)
def test_each_outcome_is_booked_as_what_it_was(
    outcome: str, kind: str, reason: str, is_charged: bool, me: Person, mine: Place, client: Client
) -> None:
    visit, kept = visit_of(me), filled(mine)
    client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), {"quantity": "2", "outcome": outcome})
    part = PartUse.objects.get()
    assert (part.movement.kind, part.movement.reason, part.is_charged) == (kind, reason, is_charged)
    assert held(kept, mine) == 1


@pytest.mark.parametrize("quantity", ["0", "-2", "two", "", "1.5", "1e3", "99999999999999999999"])
def test_nonsense_quantity_is_refused_and_kept_as_typed(quantity: str, me: Person, mine: Place, client: Client) -> None:
    visit, kept = visit_of(me), filled(mine)
    answer = client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), {"quantity": quantity, "outcome": "trial"})
    assert answer.status_code == 422 and list(answer.context["form"].errors) == ["quantity"]
    shown = answer.content.decode()
    assert not quantity or f'value="{quantity}"' in shown
    assert 'value="trial"' in shown and "checked" in shown.split('value="trial"')[1][:120]
    assert not PartUse.objects.exists()


def test_unknown_outcome_is_refused(me: Person, mine: Place, client: Client) -> None:
    sent = {"quantity": "1", "outcome": "eaten"}
    answer = client.post(reverse("jobs:part", args=[visit_of(me).pk, filled(mine).pk]), sent)
    assert answer.status_code == 422 and list(answer.context["form"].errors) == ["outcome"]


def test_more_than_the_books_hold_is_kept_and_said_plainly(me: Person, mine: Place, client: Client) -> None:
    visit, kept = visit_of(me), filled(mine, 1)
    sent = {"quantity": "3", "outcome": "used"}
    shown = client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), sent, follow=True).content.decode()
    assert "The books of Van 1 held only 1. It is kept" in shown
    assert held(kept, mine) == -2
    assert "-2 by the books" in shown


def test_part_is_taken_back_once(me: Person, mine: Place, client: Client) -> None:
    visit, kept = visit_of(me), filled(mine)
    part = use_part(visit.job, actor=me, item=kept, quantity=2, place=mine, visit=visit)
    back = reverse("jobs:part_back", args=[visit.pk, part.pk])
    assert "taken back to Van 1" in client.post(back, follow=True).content.decode()
    assert "taken back already" in client.post(back, follow=True).content.decode()
    assert held(kept, mine) == 3
    assert not PartUse.objects.standing().exists()


def test_part_of_another_job_is_not_there_to_take_back(me: Person, mine: Place, client: Client) -> None:
    mine_too, theirs = visit_of(me), visit_of(technician())
    part = use_part(theirs.job, actor=None, item=filled(mine), quantity=1, place=mine, visit=theirs)
    assert client.post(reverse("jobs:part_back", args=[mine_too.pk, part.pk])).status_code == 404
    assert client.post(reverse("jobs:part_back", args=[theirs.pk, part.pk])).status_code == 404


def test_job_called_off_takes_no_parts_and_says_why(me: Person, mine: Place, client: Client) -> None:
    visit, kept = visit_of(me), filled(mine)
    close_job(visit.job, actor=None, state="called_off", reason="Found the spare key.")
    sent = {"quantity": "2", "outcome": "used"}
    answer = client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), sent)
    shown = answer.content.decode()
    assert "is called off." in shown and 'value="2"' in shown
    assert held(kept, mine) == 3


def test_items_are_found_by_two_letters_or_number_and_switched_off_ones_are_not(
    me: Person, mine: Place, client: Client
) -> None:
    visit = visit_of(me)
    filled(mine, number="T-310", name="Transponder blank, Aldren")
    item(number="T-900", name="Aldren spare", is_active=False)
    url = reverse("jobs:parts", args=[visit.pk])
    for typed in ("al", "t-31", "310", "blank ald"):
        found = client.get(url, {"q": typed}).content.decode()
        assert "T-310" in found and "T-900" not in found, typed
    part_of_page = client.get(url, {"q": "al"}, headers={"HX-Request": "true"}).content.decode()
    assert "T-310" in part_of_page and "<html" not in part_of_page
    assert "No item is called “zzz”" in client.get(url, {"q": "zzz"}).content.decode()


def test_usual_ones_come_first_by_make_and_kind_of_work(me: Person, mine: Place, client: Client) -> None:
    kind = KindOfWork.ALL_KEYS_LOST
    before, visit = visit_of(me, hours=-20, kind_of_work=kind), visit_of(me, kind_of_work=kind)
    never, often = filled(mine, number="A-1"), filled(mine, number="Z-9")
    use_part(before.job, actor=me, item=often, quantity=1, place=mine, visit=before)
    usual = client.get(reverse("jobs:parts", args=[visit.pk])).context["usual"]
    assert [each.pk for each in usual] == [often.pk, never.pk]


@pytest.mark.parametrize("rows", [1, 3])
def test_parts_page_asks_the_database_the_same_for_any_number_of_parts(
    rows: int, me: Person, mine: Place, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    visit = visit_of(me)
    for _ in range(rows):
        use_part(visit.job, actor=me, item=filled(mine), quantity=1, place=mine, visit=visit)
    client.get(reverse("jobs:parts", args=[visit.pk]))
    with django_assert_num_queries(7):
        client.get(reverse("jobs:parts", args=[visit.pk]))


def test_without_a_van_the_shelf_serves_and_without_both_it_is_said(me: Person, client: Client) -> None:
    visit, kept = visit_of(me), item()
    sent = {"quantity": "1", "outcome": "used"}
    refused = client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), sent)
    assert "Ask the owner for a van." in refused.content.decode()
    assert not Movement.objects.exists()
    place = shelf()
    assert "parts are taken from Shelf" in client.get(reverse("jobs:parts", args=[visit.pk])).content.decode()
    client.post(reverse("jobs:part", args=[visit.pk, kept.pk]), sent)
    assert held(kept, place) == -1
