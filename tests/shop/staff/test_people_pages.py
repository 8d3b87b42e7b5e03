import re
from datetime import time, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from shop.models import Shop
from shop.staff import actions
from shop.staff.models import DayOff, Person
from tests.cast import PASSWORD, office, once_key, owner, signed_in, technician

pytestmark = pytest.mark.django_db

NEW = {
    "name": "Ines Falk",
    "email": "ines@shop.example",
    "roles": ["office", "technician"],
    "phone": "(201) 555-0123",
    "hourly_cost": "31.50",
    "licence_number": "L-204",
    "password": PASSWORD,
}


@pytest.fixture
def boss() -> Client:
    return signed_in(owner(name="Ada Quist", email="ada@shop.example"))


def test_add_person_reads_what_people_type(boss: Client) -> None:
    answer = boss.post("/people/add", {**NEW, "form_key": once_key()})
    ines = Person.objects.get(email="ines@shop.example")
    assert answer["Location"] == f"/people/{ines.pk}"
    assert (ines.phone, ines.hourly_cost, ines.licence_number) == ("+12015550123", Decimal("31.50"), "L-204")
    assert (ines.is_owner, ines.is_office, ines.is_technician) == (False, True, True)
    assert ines.check_password(PASSWORD)


def test_add_person_sent_twice_adds_one(boss: Client) -> None:
    form = {**NEW, "form_key": once_key()}
    assert boss.post("/people/add", form)["Location"] == boss.post("/people/add", form)["Location"]
    assert Person.objects.count() == 2


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("email", "Ada@Shop.example", "Somebody has this e-mail already"),
        ("email", "ines at shop", "valid email"),
        ("roles", [], "at least one role"),
        ("phone", "call me", "no letters"),
        ("hourly_cost", "-1", "below nothing"),
        ("hourly_cost", "much", "not an amount"),
        ("hourly_cost", "1000000", "too much"),
        ("password", "ines@shop.example", "too similar"),
        ("name", "", "required"),
    ],
)
def test_add_person_says_what_is_wrong_and_keeps_what_was_typed(
    boss: Client, field: str, typed: Any, words: str
) -> None:
    answer = boss.post("/people/add", {**NEW, field: typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="L-204"' in page
    if isinstance(typed, str) and field != "password":
        assert f'value="{typed}"' in page or not typed
    assert Person.objects.count() == 1


@pytest.mark.parametrize("more", [0, 2])
def test_people_list_asks_the_database_the_same_for_any_number(
    boss: Client, more: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(more):
        someone = technician()
        actions.set_week(someone, actor=None, shifts={0: (time(8), time(17))})
    Shop.current()
    with django_assert_num_queries(4):  # session, person, people, their weeks
        page = boss.get("/people").content.decode()
    assert page.count('<th scope="row">') == more + 1


def test_person_page_shows_and_changes_facts(boss: Client) -> None:
    someone = technician(name="Jon Brand", phone="+12015550123")
    page = boss.get(f"/people/{someone.pk}").content.decode()
    assert 'value="(201) 555-0123"' in page
    form = {**NEW, "name": "Jon Brandt", "email": someone.email, "roles": ["technician"], "form_key": once_key()}
    assert boss.post(f"/people/{someone.pk}", form).status_code == 302
    someone.refresh_from_db()
    assert (someone.name, someone.hourly_cost) == ("Jon Brandt", Decimal("31.50"))


def test_last_owner_cannot_give_up_being_owner(boss: Client) -> None:
    ada = Person.objects.get()
    answer = boss.post(f"/people/{ada.pk}", {**NEW, "name": "Ada Q", "email": ada.email, "roles": ["office"]})
    assert answer.status_code == 422
    assert "at least one owner" in answer.content.decode()
    assert 'value="Ada Q"' in answer.content.decode()


def test_week_is_kept_and_a_half_filled_day_is_refused(boss: Client) -> None:
    someone = technician()
    week = {"from_0": "08:00", "until_0": "17:00", "from_6": "", "until_6": ""}
    assert boss.post(f"/people/{someone.pk}/week", {**week, "form_key": once_key()}).status_code == 302
    assert [(s.weekday, s.starts) for s in someone.weekly_shifts.all()] == [(0, time(8))]
    for typed, words in (
        ({"from_2": "08:00"}, "both times"),
        ({"from_2": "17:00", "until_2": "08:00"}, "ends before"),
        ({"from_2": "8 in the morning", "until_2": "17:00"}, "valid time"),
    ):
        answer = boss.post(f"/people/{someone.pk}/week", {**week, **typed})
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert f'value="{typed["from_2"]}"' in answer.content.decode()
    assert someone.weekly_shifts.count() == 1


def test_days_off_are_added_removed_and_put_back(boss: Client) -> None:
    someone = technician()
    first = timezone.localdate() + timedelta(days=3)
    span = {"on": first.isoformat(), "until": (first + timedelta(days=1)).isoformat(), "reason": "Course"}
    assert boss.post(f"/people/{someone.pk}/days-off", {**span, "form_key": once_key()}).status_code == 302
    page = boss.get(f"/people/{someone.pk}").content.decode()
    assert page.count("Course") == 2
    day_off = DayOff.objects.get(on=first)
    boss.post(f"/days-off/{day_off.pk}/remove", {"form_key": once_key()})
    assert not DayOff.objects.filter(on=first).exists()
    undo = re.search(r"/days-off/put-back/[^\"]+", boss.get(f"/people/{someone.pk}").content.decode())
    assert undo
    assert boss.post(undo[0], {"form_key": once_key()}).status_code == 302
    assert DayOff.objects.get(on=first).reason == "Course"


def test_day_off_is_not_put_back_by_a_word_nobody_signed(boss: Client) -> None:
    assert boss.post("/days-off/put-back/abc:def:ghi").status_code == 400


def test_day_off_that_makes_no_sense_is_refused(boss: Client) -> None:
    someone = technician()
    answer = boss.post(f"/people/{someone.pk}/days-off", {"on": "2026-05-04", "until": "2026-05-01"})
    assert answer.status_code == 422
    assert "before the first" in answer.content.decode()
    assert 'value="2026-05-04"' in answer.content.decode()


def test_owner_sets_a_password_which_signs_the_person_out(boss: Client) -> None:
    someone = office()
    theirs = signed_in(someone)
    form = {"password": "a fresh one for the desk", "form_key": once_key()}
    assert boss.post(f"/people/{someone.pk}/password", form).status_code == 302
    assert theirs.get("/my-password").status_code == 302
    someone.refresh_from_db()
    assert someone.check_password("a fresh one for the desk")
    assert boss.post(f"/people/{someone.pk}/password", {"password": "short"}).status_code == 422


def test_owner_changes_their_own_password_only_with_the_old_one(boss: Client) -> None:
    ada = Person.objects.get()
    answer = boss.post(f"/people/{ada.pk}/password", {"password": "a fresh one for the desk"})
    assert answer["Location"] == "/my-password"
    ada.refresh_from_db()
    assert ada.check_password(PASSWORD)


def test_switching_off_and_on_again(boss: Client) -> None:
    someone = office()
    boss.post(f"/people/{someone.pk}/switch-off", {"form_key": once_key()})
    someone.refresh_from_db()
    assert not someone.is_active
    assert f"/people/{someone.pk}/switch-on" in boss.get(f"/people/{someone.pk}").content.decode()
    boss.post(f"/people/{someone.pk}/switch-on", {"form_key": once_key()})
    someone.refresh_from_db()
    assert someone.is_active


def test_switching_off_yourself_is_refused_in_words(boss: Client) -> None:
    ada = Person.objects.get()
    owner()
    answer = boss.post(f"/people/{ada.pk}/switch-off", follow=True)
    assert "cannot switch off yourself" in answer.content.decode()
    ada.refresh_from_db()
    assert ada.is_active


POSTS = ["week", "days-off", "password", "switch-off", "switch-on"]


def test_pages_of_people_are_the_owners_alone() -> None:
    someone = technician()
    paths = ["/people", "/people/add", f"/people/{someone.pk}", "/shop"]
    for stranger in (signed_in(office()), signed_in(technician())):
        assert [stranger.get(path).status_code for path in paths] == [403] * 4
        answers = [stranger.post(f"/people/{someone.pk}/{part}").status_code for part in POSTS]
        assert answers == [403] * len(POSTS)
    assert [Client().get(path).status_code for path in paths] == [302] * 4


def test_wrong_method_and_missing_person(boss: Client) -> None:
    someone = technician()
    assert [boss.get(f"/people/{someone.pk}/{part}").status_code for part in POSTS] == [405] * len(POSTS)
    assert boss.post("/people").status_code == 405
    for missing in (0, 999_999, 10**30):
        assert boss.get(f"/people/{missing}").status_code == 404
        assert [boss.post(f"/people/{missing}/{part}").status_code for part in POSTS] == [404] * len(POSTS)
    assert boss.post("/days-off/999999/remove").status_code == 404
