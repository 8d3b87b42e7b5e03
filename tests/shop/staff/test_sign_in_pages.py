from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Shop
from shop.staff import actions
from shop.staff.models import Person
from shop.staff.roles import Role
from shop.staff.rules import MOST_FOR_BOTH
from tests.cast import PASSWORD, office, once_key, owner, person, signed_in, technician

pytestmark = pytest.mark.django_db


def try_to_sign_in(client: Client, email: str, password: str = PASSWORD, **more: str) -> Any:
    return client.post("/sign-in", {"email": email, "password": password, **more})


def test_sign_in_opens_the_first_page_or_the_one_asked_for() -> None:
    someone = office(email="ines@shop.example")
    client = Client()
    assert client.get("/people")["Location"] == "/sign-in?next=/people"
    assert try_to_sign_in(client, "Ines@SHOP.example")["Location"] == "/"
    assert client.get("/my-password").status_code == 200
    assert try_to_sign_in(Client(), someone.email, next="/customers")["Location"] == "/customers"
    assert try_to_sign_in(Client(), someone.email, next="https://elsewhere.example/")["Location"] == "/"


def test_sign_in_page_is_passed_by_whoever_is_signed_in() -> None:
    assert signed_in(office()).get("/sign-in")["Location"] == "/"


def test_wrong_password_keeps_the_email_and_not_the_password() -> None:
    someone = office(email="ines@shop.example")
    answer = try_to_sign_in(Client(), someone.email, "wrong one typed")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "do not belong together" in page
    assert 'value="ines@shop.example"' in page
    assert "wrong one typed" not in page
    assert "_auth_user_id" not in answer.client.session


def test_switched_off_person_is_told_whom_to_ask() -> None:
    boss, someone = owner(), office()
    actions.switch_off(someone, actor=boss)
    assert "Ask the owner" in try_to_sign_in(Client(), someone.email).content.decode()


def test_too_many_guesses_are_told_to_wait() -> None:
    someone = office()
    for _ in range(MOST_FOR_BOTH):
        try_to_sign_in(Client(), someone.email, "no")
    assert "Too many wrong tries" in try_to_sign_in(Client(), someone.email).content.decode()


def test_sign_in_starts_a_new_session() -> None:
    client = signed_in(office())
    before = client.session.session_key
    try_to_sign_in(client, technician().email)
    assert client.session.session_key != before


def test_sign_out_is_a_post() -> None:
    client = signed_in(office())
    assert client.get("/sign-out").status_code == 405
    assert client.post("/sign-out")["Location"] == "/sign-in"
    assert client.get("/my-password").status_code == 302


def test_session_ends_when_the_person_is_switched_off_and_stays_ended() -> None:
    boss, someone = owner(), office()
    client = signed_in(someone)
    assert client.get("/my-password").status_code == 200
    actions.switch_off(someone, actor=boss)
    assert client.get("/my-password").status_code == 302
    stale = signed_in(boss)
    stale.cookies = client.cookies
    actions.switch_on(someone, actor=boss)
    assert stale.get("/my-password").status_code == 302


def test_session_kept_over_switching_off_is_not_revived() -> None:
    # The browser asks nothing while its person is off, so only the session itself can tell.
    boss, someone = owner(), office()
    client = signed_in(someone)
    actions.switch_off(someone, actor=boss)
    actions.switch_on(someone, actor=boss)
    assert client.get("/my-password").status_code == 302


@pytest.mark.parametrize(
    ("roles", "route"),
    [
        ([Role.OFFICE], "jobs:day"),
        ([Role.TECHNICIAN], "jobs:round"),
        ([Role.OWNER], "billing:margins"),
        ([Role.OWNER, Role.OFFICE], "jobs:day"),
        ([Role.OFFICE, Role.TECHNICIAN], "jobs:day"),
        ([Role.OWNER, Role.TECHNICIAN], "jobs:round"),
    ],
)
def test_home_opens_where_the_work_is(roles: list[Role], route: str) -> None:
    assert signed_in(person(*roles)).get(reverse("home"))["Location"] == reverse(route)


def test_my_password_changes_mine_and_keeps_this_device_signed_in() -> None:
    someone = technician()
    here, other = signed_in(someone), signed_in(someone)
    form = {"old_password": PASSWORD, "password": "another long one for me", "form_key": once_key()}
    assert here.post("/my-password", form)["Location"] == "/"
    assert here.get("/my-password").status_code == 200
    assert other.get("/my-password").status_code == 302
    someone.refresh_from_db()
    assert someone.check_password("another long one for me")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("not it", "another long one for me", "not your password"),
        (PASSWORD, "short", "at least 10 characters"),
        (PASSWORD, "password123", "too common"),
    ],
)
def test_my_password_refuses_a_wrong_old_and_a_weak_new_one(old: str, new: str, words: str) -> None:
    someone = office()
    answer = signed_in(someone).post("/my-password", {"old_password": old, "password": new})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    someone.refresh_from_db()
    assert someone.check_password(PASSWORD)


SET_UP = {"shop_name": "Quist Locks", "name": "Ada Quist", "email": "Ada@shop.example", "password": PASSWORD}


def test_empty_shop_offers_set_up_and_signs_in_its_owner() -> None:
    client = Client()
    assert "Set up the shop" in client.get("/sign-in").content.decode()
    assert client.post("/set-up", {**SET_UP, "form_key": once_key()})["Location"] == "/shop"
    ada = Person.objects.get()
    assert (ada.email, ada.is_owner, Shop.objects.get().name) == ("ada@shop.example", True, "Quist Locks")
    assert client.get("/shop").status_code == 200
    assert "Set up the shop" not in Client().get("/sign-in").content.decode()


def test_set_up_is_closed_as_soon_as_one_person_exists() -> None:
    technician()
    assert Client().get("/set-up")["Location"] == "/sign-in"
    answer = Client().post("/set-up", SET_UP)
    assert answer["Location"] == "/sign-in"
    assert Person.objects.filter(is_owner=True).count() == 0


def test_set_up_sent_twice_makes_one_owner_and_no_error() -> None:
    client, form = Client(), {**SET_UP, "form_key": once_key()}
    answers = [client.post("/set-up", form)["Location"], Client().post("/set-up", form)["Location"]]
    assert answers == ["/shop", "/shop"]
    assert Person.objects.count() == 1


def test_set_up_with_a_short_password_keeps_what_was_typed() -> None:
    answer = Client().post("/set-up", {**SET_UP, "password": "ninechars"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "at least 10 characters" in page
    assert 'value="Quist Locks"' in page
    assert 'value="Ada Quist"' in page
    assert not Person.objects.exists()
