"""Who is calling: found while a number, a name, a plate or a VIN is being typed."""

import json
import re
from html import unescape

import pytest
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase as PropertyTestCase
from pytest_django import DjangoAssertNumQueries

from shop.customers.actions import add_customer
from shop.customers.models import Customer
from shop.models import Shop
from tests.cast import office, signed_in
from vehicles.actions import add_vehicle
from vehicles.bench import load
from vehicles.callers import MOST, find_callers
from vehicles.models import Vehicle

VIN = "1M8GDM9AXKP042788"  # Wikibooks, VIN/Check digit (from memory)


def names(text: str) -> list[str]:
    return [caller.name for caller in find_callers(text)]


@pytest.fixture
def shop_of_three() -> None:
    ella = add_customer(
        actor=None, name="Ella Holmere", phones=[("+12015550100", ""), ("+12015550123", "")], warning="Dog"
    )
    add_vehicle(actor=None, customer=ella, plate="KLM 204", vin=VIN, year=2018, make="Halden", model="Brisk")
    fleet = add_customer(actor=None, name="Harbour Fleet", contact_name="Zoë Quist", phones=[("+442071838750", "")])
    add_vehicle(actor=None, customer=fleet, plate="KLM-2045")
    add_customer(actor=None, name="Holm Ellason")
    add_vehicle(actor=None, plate="KLM 999")


@pytest.mark.django_db
@pytest.mark.usefixtures("shop_of_three")
@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("2015550123", ["Ella Holmere"]),
        ("(201) 555-01", ["Ella Holmere"]),
        ("+44 20 7183 8750", ["Harbour Fleet"]),
        ("ella", ["Ella Holmere", "Holm Ellason"]),
        ("holm", ["Holm Ellason", "Ella Holmere"]),
        ("ellason holm", ["Holm Ellason"]),
        ("zoe", ["Harbour Fleet"]),
        ("klm204", ["Ella Holmere", "Harbour Fleet"]),
        ("KLM 2045", ["Harbour Fleet"]),
        ("klm 999", []),
        (VIN.lower(), ["Ella Holmere"]),
        (VIN[-6:], ["Ella Holmere"]),
        ("Holmree", ["Ella Holmere", "Holm Ellason"]),
        ("%", []),
        ("5", []),
        ("", []),
        ("\\", []),
        ("'; DROP TABLE customers_customer; --", []),
    ],
)
def test_caller_is_found_the_surest_first(typed: str, found: list[str]) -> None:
    assert names(typed) == found


@pytest.mark.django_db
@pytest.mark.usefixtures("shop_of_three")
def test_the_number_that_matched_is_the_one_shown_and_a_guess_says_so() -> None:
    assert find_callers("5550123")[0].phone == "+12015550123"
    assert find_callers("ella")[0].phone == "+12015550100"
    assert not find_callers("holmere")[0].is_guess
    assert find_callers("Holmree")[0].is_guess


@pytest.mark.django_db
@pytest.mark.usefixtures("shop_of_three")
def test_lines_carry_what_the_call_page_needs() -> None:
    page = signed_in(office()).get("/callers", {"q": "ella h"}).content.decode()
    ella = Customer.objects.get(name="Ella Holmere")
    line = re.search(r"<a [^>]*data-caller[^>]*>", page)
    assert line
    held = {name: unescape(value) for name, value in re.findall(r'([\w-]+)="([^"]*)"', line[0])}
    assert held["href"] == f"/customers/{ella.pk}"
    assert (held["data-customer"], held["data-name"], held["data-phone"]) == (str(ella.pk), ella.name, "+12015550100")
    [vehicle] = json.loads(held["data-vehicles"])
    assert vehicle["id"] == Vehicle.objects.get(vin=VIN).pk
    assert vehicle["words"] == "2018 Halden Brisk · KLM 204"
    assert "Dog" in page


@pytest.mark.django_db
@pytest.mark.parametrize("more", [1, 3])
def test_a_search_is_one_question_to_the_database(more: int, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for number in range(more):
        ella = add_customer(actor=None, name=f"Ella {number}", phones=[(f"+1201555012{number}", "")])
        add_vehicle(actor=None, customer=ella, plate=f"KLM {number}")
    desk = signed_in(office())
    Shop.current()
    with django_assert_num_queries(3):  # session, person, callers
        page = desk.get("/callers?q=ella").content.decode()
    assert page.count("data-caller ") == more


@pytest.mark.django_db
def test_never_more_than_fit_beside_the_phone() -> None:
    for number in range(MOST + 3):
        add_customer(actor=None, name=f"Ella {number:02d}")
    assert names("ella") == [f"Ella {number:02d}" for number in range(MOST)]


@pytest.mark.django_db
def test_nobody_found_is_said_and_nothing_typed_says_nothing() -> None:
    desk: Client = signed_in(office())
    assert "Nobody is known by this" in desk.get("/callers?q=nobody").content.decode()
    assert desk.get("/callers").content.decode().strip() == ""


@pytest.mark.django_db
def test_search_for_a_known_number_reads_no_table_whole() -> None:
    # A thousand rows fit on a few pages, so that the planner would rightly read them whole; it is told not to.
    from django.db import connection

    load(1000)
    number = Customer.objects.earliest("id").phones.earliest("id").number
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        for sql, values in (
            ("SELECT customer_id FROM customers_customerphone WHERE number = %s", [number]),
            ("SELECT customer_id FROM customers_customerphone WHERE number LIKE %s", [f"%{number[-7:]}%"]),
            ("SELECT id FROM customers_customer WHERE name_search LIKE bittern_fold(%s)", ["hol%"]),
            ("SELECT id FROM customers_customer WHERE name_search LIKE bittern_fold(%s)", ["%hol%"]),
            ("SELECT id FROM customers_customer WHERE bittern_fold(%s) <%% name_search", ["holmree"]),
            ("SELECT customer_id FROM vehicles_vehicle WHERE plate_search LIKE %s", ["KLM2%"]),
            ("SELECT customer_id FROM vehicles_vehicle WHERE vin <> '' AND vin LIKE %s", ["%042788%"]),
        ):
            cursor.execute(f"EXPLAIN {sql}", values)
            plan = "\n".join(row[0] for row in cursor.fetchall())
            assert "Seq Scan" not in plan, plan


class AnyText(PropertyTestCase):
    @settings(max_examples=60, deadline=None)
    @given(text=st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=60))
    def test_any_text_is_answered(self, text: str) -> None:
        assert find_callers(text) == []

    @settings(max_examples=40, deadline=None)
    @given(name=st.text("abcdefghij ", min_size=1, max_size=20).filter(str.strip), cut=st.integers(1, 20))
    def test_every_beginning_of_a_name_finds_it(self, name: str, cut: int) -> None:
        customer = add_customer(actor=None, name=" ".join(name.split()))
        beginning = customer.name[:cut]
        assert customer.pk in [caller.id for caller in find_callers(beginning)]
