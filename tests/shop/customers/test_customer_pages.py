import re
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from shop.customers.actions import add_customer, add_phone
from shop.customers.models import Customer
from shop.models import Shop
from tests.cast import office, once_key, signed_in, technician

pytestmark = pytest.mark.django_db

NEW = {
    "name": "Ella Holmere",
    "kind": "person",
    "contact_name": "",
    "warning": "Dog in the yard",
    "terms_days": "0",
    "phones-TOTAL_FORMS": "2",
    "phones-INITIAL_FORMS": "0",
    "phones-0-number": "(201) 555-0123",
    "phones-0-label": "mobile",
    "phones-1-number": "",
    "phones-1-label": "",
    "emails-TOTAL_FORMS": "1",
    "emails-INITIAL_FORMS": "0",
    "emails-0-address": "ella@post.example",
    "emails-0-label": "",
}


@pytest.fixture
def desk() -> Client:
    return signed_in(office())


def test_add_customer_reads_numbers_typed_any_way(desk: Client) -> None:
    answer = desk.post("/customers/add", {**NEW, "phones-1-number": "+44 20 7183 8750", "form_key": once_key()})
    ella = Customer.objects.get()
    assert answer["Location"] == f"/customers/{ella.pk}"
    assert [p.number for p in ella.phones.all()] == ["+12015550123", "+442071838750"]
    assert [e.address for e in ella.emails.all()] == ["ella@post.example"]


def test_add_customer_sent_twice_adds_one(desk: Client) -> None:
    form = {**NEW, "form_key": once_key()}
    assert desk.post("/customers/add", form)["Location"] == desk.post("/customers/add", form)["Location"]
    assert Customer.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "required"),
        ("phones-0-number", "call mother", "no letters"),
        ("phones-0-number", "555", "too short"),
        ("phones-1-number", "201 555 0123", "stands above already"),
        ("phones-1-label", "work", "Type the number"),
        ("emails-0-address", "ella at post", "valid email"),
        ("terms_days", "-3", "At least 0."),
        ("terms_days", "soon", "whole number"),
        ("kind", "friend", "not one of the available choices"),
    ],
)
def test_bad_input_is_told_beside_its_field_and_stays(desk: Client, field: str, typed: str, words: str) -> None:
    answer = desk.post("/customers/add", {**NEW, field: typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="Dog in the yard"' in page
    assert not typed or field == "kind" or f'value="{typed}"' in page
    assert not Customer.objects.exists()


def test_button_for_another_phone_adds_a_line_and_keeps_nothing(desk: Client) -> None:
    answer = desk.post("/customers/add", {**NEW, "name": "", "grow": "phones"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="phones-2-number"' in page
    assert 'value="(201) 555-0123"' in page
    assert not Customer.objects.exists()


def test_more_lines_than_allowed_are_refused(desk: Client) -> None:
    many: dict[str, Any] = {f"phones-{n}-number": f"+1201555{n:04d}" for n in range(25)}
    answer = desk.post("/customers/add", {**NEW, **many, "phones-TOTAL_FORMS": "25"})
    assert answer.status_code == 422
    assert not Customer.objects.exists()


def test_form_without_its_counts_is_refused_and_not_an_error(desk: Client) -> None:
    answer = desk.post("/customers/add", {"name": "Ella", "kind": "person", "terms_days": "0"})
    assert answer.status_code == 422
    assert not Customer.objects.exists()


def test_change_customer_shows_and_replaces_lines(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella", phones=[("+12015550123", "mobile"), ("+12015550124", "")])
    page = desk.get(f"/customers/{ella.pk}/change").content.decode()
    assert 'value="(201) 555-0124"' in page
    lines = {
        "phones-TOTAL_FORMS": "3",
        "phones-INITIAL_FORMS": "2",
        "phones-1-number": "",
        "phones-2-number": "2015550199",
    }
    form = {**NEW, **lines, "emails-0-address": "", "form_key": once_key()}
    assert desk.post(f"/customers/{ella.pk}/change", form)["Location"] == f"/customers/{ella.pk}"
    assert [(p.number, p.label) for p in ella.phones.all()] == [("+12015550123", "mobile"), ("+12015550199", "")]


def test_page_shows_who_it_is_and_a_likely_twin(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella", phones=[("+12015550123", "")], warning="Pays in coins", terms_days=14)
    twin = add_customer(actor=None, name="Ella Twin", phones=[("+12015550123", "")])
    page = desk.get(f"/customers/{ella.pk}").content.decode()
    assert "Pays in coins" in page
    assert "within 14 days" in page
    assert f'href="/customers/{twin.pk}">Ella Twin' in page
    assert f'hx-get="/customers/{ella.pk}/vehicles"' in page


@pytest.mark.parametrize("more", [1, 3])
def test_list_asks_the_database_the_same_for_any_number(
    desk: Client, more: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(more):
        ella = add_customer(actor=None, name=f"Ella {number}", phones=[(f"+1201555012{number}", "")])
        add_phone(ella, actor=None, number=f"+1201555013{number}")
    Shop.current()
    with django_assert_num_queries(5):  # session, person, customers, phones, addresses
        page = desk.get("/customers").content.decode()
    assert page.count('<th scope="row">') == more
    with django_assert_num_queries(5):
        assert desk.get("/customers?q=ella").content.decode().count('<th scope="row">') == more


def test_list_finds_and_says_when_nobody_matches(desk: Client) -> None:
    add_customer(actor=None, name="Ella Holmere")
    add_customer(actor=None, name="Ben Dunsaham")
    page = desk.get("/customers?q=holm").content.decode()
    assert "Ella" in page
    assert "Ben" not in page
    assert 'value="holm"' in page
    assert "Nobody found" in desk.get("/customers?q=nothing\0like").content.decode()


def test_list_in_part_for_htmx_is_the_table_alone(desk: Client) -> None:
    add_customer(actor=None, name="Ella Holmere")
    page = desk.get("/customers?q=ella", headers={"HX-Request": "true"}).content.decode()
    assert "Ella Holmere" in page
    assert "<html" not in page


def test_known_number_is_told_while_typing(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella", phones=[("+12015550123", "")])
    typed = {"phones-0-number": "(201) 555-0123"}
    assert "Known already" in desk.get("/customers/known-number", typed).content.decode()
    assert "Known" not in desk.get("/customers/known-number", {**typed, "customer": str(ella.pk)}).content.decode()
    for part in ("(201) 555", "abc", "", "\0"):
        assert "Known" not in desk.get("/customers/known-number", {"phones-0-number": part}).content.decode()


PLACE = {"street": "Mill Lane 14", "town": "Brackwater", "postcode": "", "label": "Yard", "access_notes": "Gate 4711"}


@pytest.mark.parametrize(
    ("typed", "latitude"),
    [
        ("", None),
        ("52.5163, 13.3777", "52.516300"),
        ("geo:48.2010,16.3695,183", "48.201000"),  # RFC 5870 section 6.4 writes this place so
        ("https://maps.example/?q=52.5163,13.3777", "52.516300"),
    ],
)
def test_place_is_typed_pasted_or_left_out(desk: Client, typed: str, latitude: str | None) -> None:
    ella = add_customer(actor=None, name="Ella")
    form = {**PLACE, "place": typed, "form_key": once_key()}
    assert desk.post(f"/customers/{ella.pk}/addresses/add", form)["Location"] == f"/customers/{ella.pk}"
    kept = ella.addresses.get()
    assert (str(kept.latitude) if kept.latitude is not None else None) == latitude
    page = desk.get(f"/addresses/{kept.pk}").content.decode()
    assert latitude is None or latitude in page


def test_place_that_cannot_be_read_stays_as_typed(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella")
    answer = desk.post(f"/customers/{ella.pk}/addresses/add", {**PLACE, "place": "behind the church"})
    assert answer.status_code == 422
    assert 'value="behind the church"' in answer.content.decode()
    assert 'value="Gate 4711"' in answer.content.decode()
    assert not ella.addresses.exists()


def test_place_is_changed_taken_off_and_put_back(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella")
    desk.post(f"/customers/{ella.pk}/addresses/add", {**PLACE, "place": "52.5163, 13.3777"})
    kept = ella.addresses.get()
    desk.post(f"/addresses/{kept.pk}", {**PLACE, "town": "Norwick", "place": "52.5163, 13.3777"})
    desk.post(f"/addresses/{kept.pk}/remove", {"form_key": once_key()})
    assert not ella.addresses.exists()
    undo = re.search(r"/addresses/put-back/[^\"]+", desk.get(f"/customers/{ella.pk}").content.decode())
    assert undo
    desk.post(undo[0], {"form_key": once_key()})
    back = ella.addresses.get()
    assert (back.town, back.access_notes, str(back.longitude)) == ("Norwick", "Gate 4711", "13.377700")
    assert desk.post("/addresses/put-back/made-up:word:here").status_code == 400


def test_customers_are_the_offices_and_owners_alone() -> None:
    ella = add_customer(actor=None, name="Ella")
    paths = ["/customers", "/customers/add", f"/customers/{ella.pk}", f"/customers/{ella.pk}/change"]
    assert [signed_in(technician()).get(path).status_code for path in paths] == [403] * 4
    assert [Client().get(path).status_code for path in paths] == [302] * 4


def test_wrong_method_and_missing_customer(desk: Client) -> None:
    ella = add_customer(actor=None, name="Ella")
    assert desk.post(f"/customers/{ella.pk}").status_code == 405
    assert desk.get("/addresses/1/remove").status_code == 405
    for missing in ("/customers/0", f"/customers/{10**30}", "/customers/999999/change", "/addresses/999999"):
        assert desk.get(missing).status_code == 404
    assert desk.post("/customers/999999/addresses/add", PLACE).status_code == 404
    assert desk.post("/addresses/999999/remove").status_code == 404
