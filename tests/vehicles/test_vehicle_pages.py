import csv
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from shop.customers.actions import add_customer
from shop.customers.models import Customer
from shop.errors import Refused
from shop.models import Shop
from tests.cast import office, once_key, owner, signed_in, technician
from vehicles.actions import add_vehicle, change_vehicle
from vehicles.models import Vehicle

pytestmark = pytest.mark.django_db

EXAMPLES = list(csv.DictReader((Path(__file__).parent / "data" / "vin_examples.csv").read_text().splitlines()))
GOOD = "1M8GDM9AXKP042788"  # Wikibooks, VIN/Check digit (from memory): worked example, check digit X
SLIPPED = "1M8GDM9A1KP042788"  # the same with a wrong check digit
RUSSIAN = "XTA21099043567547"  # from memory: made for a market without check digits
NEW = {"plate": "klm 204", "vin": "", "year": "2018", "make": "Halden", "model": "Brisk", "colour": "", "notes": ""}


@pytest.fixture
def desk() -> Client:
    return signed_in(office())


@pytest.fixture
def ella() -> Customer:
    return add_customer(actor=None, name="Ella Holmere")


def test_vehicle_is_added_to_its_customer(desk: Client, ella: Customer) -> None:
    answer = desk.post(f"/customers/{ella.pk}/vehicles/add", {**NEW, "vin": GOOD.lower(), "form_key": once_key()})
    assert answer["Location"] == f"/customers/{ella.pk}"
    kept = Vehicle.objects.get()
    assert (kept.customer, kept.plate, kept.plate_search, kept.vin) == (ella, "KLM 204", "KLM204", GOOD)
    assert str(kept) == "2018 Halden Brisk · KLM 204"


def test_form_sent_twice_adds_one_vehicle(desk: Client, ella: Customer) -> None:
    form = {**NEW, "form_key": once_key()}
    for _ in range(2):
        assert desk.post(f"/customers/{ella.pk}/vehicles/add", form).status_code == 302
    assert Vehicle.objects.count() == 1


@pytest.mark.parametrize("row", [row for row in EXAMPLES if row["check_ok"] == "format"], ids=lambda row: row["note"])
def test_vin_of_the_wrong_form_is_refused_beside_the_field_and_stays(
    desk: Client, ella: Customer, row: dict[str, str]
) -> None:
    # 49 CFR 565.13(a) and 565.15: 17 characters, never I, O or Q.
    answer = desk.post(f"/customers/{ella.pk}/vehicles/add", {**NEW, "vin": row["vin"]})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'value="{row["vin"]}"' in page
    assert 'value="klm 204"' in page
    assert 'id="id_vin_error"' in page
    assert not Vehicle.objects.exists()


def test_vin_of_18_characters_is_refused_and_stays(desk: Client, ella: Customer) -> None:
    answer = desk.post(f"/customers/{ella.pk}/vehicles/add", {**NEW, "vin": GOOD + "8"})
    assert answer.status_code == 422
    assert "18 characters" in answer.content.decode()
    assert f'value="{GOOD}8"' in answer.content.decode()


def test_foreign_vin_without_check_digit_is_kept_and_warned_about(desk: Client, ella: Customer) -> None:
    # 49 CFR 565.15(c) asks for the check digit only of vehicles sold in the United States.
    assert desk.post(f"/customers/{ella.pk}/vehicles/add", {**NEW, "vin": RUSSIAN}).status_code == 302
    kept = Vehicle.objects.get(vin=RUSSIAN)
    assert "Elsewhere that may be right" in desk.get(f"/vehicles/{kept.pk}").content.decode()


def test_north_american_vin_with_a_slip_is_kept_only_on_purpose(desk: Client, ella: Customer) -> None:
    path, form = f"/customers/{ella.pk}/vehicles/add", {**NEW, "vin": SLIPPED}
    answer = desk.post(path, form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "should be X" in page
    assert 'name="is_vin_meant"' in page
    assert desk.post(path, {**form, "is_vin_meant": "on"}).status_code == 302
    assert Vehicle.objects.get().vin == SLIPPED


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"year": "2999"}, "has not come yet"),
        ({"year": "12"}, "At least 1900."),
        ({"year": "new"}, "whole number"),
        ({"plate": "X" * 17}, "At most 16"),
        ({"plate": "", "make": "", "model": ""}, "at least the make"),
    ],
)
def test_bad_input_is_told_and_stays(desk: Client, ella: Customer, changed: dict[str, str], words: str) -> None:
    answer = desk.post(f"/customers/{ella.pk}/vehicles/add", {**NEW, "colour": "Ochre", **changed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="Ochre"' in page
    assert not Vehicle.objects.exists()


def test_vehicle_is_changed_and_its_plate_found_by_the_new_one(desk: Client, ella: Customer) -> None:
    car = add_vehicle(actor=None, customer=ella, plate="KLM 204")
    assert 'value="KLM 204"' in desk.get(f"/vehicles/{car.pk}/change").content.decode()
    answer = desk.post(f"/vehicles/{car.pk}/change", {**NEW, "plate": "nop-77", "form_key": once_key()})
    assert answer["Location"] == f"/vehicles/{car.pk}"
    assert list(Vehicle.objects.matching("NOP 77")) == [car]
    assert not Vehicle.objects.matching("klm204")


def test_actions_refuse_a_vehicle_known_by_nothing_and_a_broken_vin(ella: Customer) -> None:
    with pytest.raises(Refused) as refused:
        add_vehicle(actor=None, customer=ella, year=2018)
    assert refused.value.field == "plate"
    with pytest.raises(Refused) as refused:
        add_vehicle(actor=None, customer=ella, vin="1M8GDM9AXKPO42788")
    assert refused.value.field == "vin"
    car = add_vehicle(actor=None, customer=ella, vin=f" {GOOD[:3]}-{GOOD[3:]}".lower())
    assert car.vin == GOOD
    with pytest.raises(TypeError):
        change_vehicle(car, actor=None, plate_search="X")


@pytest.mark.parametrize("more", [1, 3])
def test_panel_of_a_customer_asks_the_database_the_same_for_any_number(
    desk: Client, ella: Customer, more: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(more):
        add_vehicle(actor=None, customer=ella, plate=f"KLM {number}")
    Shop.current()
    with django_assert_num_queries(4):  # session, person, customer, vehicles
        page = desk.get(f"/customers/{ella.pk}/vehicles").content.decode()
    assert page.count('<th scope="row">') == more


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (GOOD, "Check digit is right"),
        (GOOD, "1989"),
        (SLIPPED, "should be X"),
        (RUSSIAN, "Elsewhere that may be right"),
        (GOOD[:16], "16 characters"),
        ("1M8GDM9AXKPO42788", 'marker">O<'),
        ("", ""),
        ("\0", ""),
        ("Ü" * 300, "another alphabet"),
    ],
)
def test_vin_is_read_while_typing(desk: Client, typed: str, words: str) -> None:
    answer = desk.get("/vehicles/read-vin", {"vin": typed})
    assert answer.status_code == 200
    assert words in answer.content.decode()


def test_vin_of_a_known_vehicle_is_told_to_the_office_alone(ella: Customer) -> None:
    add_vehicle(actor=None, customer=ella, vin=GOOD, plate="KLM 204")
    asked = {"job-vin": GOOD}
    assert "Ella Holmere" in signed_in(owner()).get("/vehicles/read-vin", asked).content.decode()
    page = signed_in(technician()).get("/vehicles/read-vin", asked).content.decode()
    assert "Check digit is right" in page
    assert "Ella" not in page


def test_vehicles_are_the_offices_and_owners_alone(ella: Customer) -> None:
    car = add_vehicle(actor=None, customer=ella, plate="KLM 204")
    paths = [f"/vehicles/{car.pk}", f"/vehicles/{car.pk}/change", f"/customers/{ella.pk}/vehicles", "/callers?q=ella"]
    paths.append(f"/customers/{ella.pk}/vehicles/add")
    assert [signed_in(technician()).get(path).status_code for path in paths] == [403] * 5
    assert [Client().get(path).status_code for path in paths] == [302] * 5


def test_wrong_method_and_missing_vehicle(desk: Client, ella: Customer) -> None:
    car = add_vehicle(actor=None, customer=ella, plate="KLM 204")
    assert desk.post(f"/vehicles/{car.pk}").status_code == 405
    for missing in ("/vehicles/999999", f"/vehicles/{10**30}", "/vehicles/999999/change"):
        assert desk.get(missing).status_code == 404
    assert desk.get("/customers/999999/vehicles").status_code == 404
    assert desk.post("/customers/999999/vehicles/add", NEW).status_code == 404
