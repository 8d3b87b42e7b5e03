"""People, customers and vehicles in a real browser: typing, keys, no scripts, and what axe sees."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from shop.customers.actions import add_address, add_customer
from shop.customers.models import Customer
from shop.staff.models import Person
from tests.cast import PASSWORD, office, owner
from vehicles.actions import add_vehicle
from vehicles.models import Vehicle

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Opener = Callable[..., Page]
VIN = "1M8GDM9AXKP042788"  # Wikibooks, VIN/Check digit (from memory): position 7 is 9, so 1989 by 49 CFR 565.15


def ella() -> Customer:
    customer = add_customer(actor=None, name="Ella Holmere", phones=[("+12015550123", "mobile")], warning="Dog")
    add_address(customer, actor=None, street="Mill Lane 14", access_notes="Gate 4711")
    return customer


def test_shop_is_set_up_and_its_owner_signs_in_again(request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue("office")()
    page.goto("/")
    page.get_by_role("link", name="Set up the shop").click()
    page.get_by_label("Name of the shop").fill("Quist Locks")
    page.get_by_label("Your name").fill("Ada Quist")
    page.get_by_label("E-mail").fill("Ada@Shop.example")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Set up the shop").click()
    expect(page.get_by_role("heading", name="Shop settings")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("E-mail").fill("ada@shop.example")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    assert Person.objects.get().email == "ada@shop.example"


def test_list_follows_what_is_typed(request: pytest.FixtureRequest) -> None:
    ella()
    add_customer(actor=None, name="Ben Dunsaham")
    page: Page = request.getfixturevalue("office")(office())
    page.goto("/customers")
    page.keyboard.press("/")
    page.keyboard.type("holm")
    expect(page.get_by_role("link", name="Ben Dunsaham")).to_have_count(0)
    expect(page.get_by_role("link", name="Ella Holmere")).to_be_visible()
    page.reload()
    expect(page.get_by_role("searchbox")).to_have_value("holm")


def test_another_phone_keeps_what_was_typed_and_enter_keeps_the_customer(request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue("office")(office())
    page.goto("/customers/add")
    page.locator("[name=phones-0-number]").fill("(201) 555-0123")
    page.get_by_role("button", name="Another phone").click()
    page.locator("[name=phones-1-number]").fill("201 555 0124")
    expect(page.locator("[name=phones-0-number]")).to_have_value("(201) 555-0123")
    page.get_by_label("Name", exact=True).fill("Ella Holmere")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Ella Holmere")).to_be_visible()
    assert [phone.number for phone in Customer.objects.get().phones.all()] == ["+12015550123", "+12015550124"]


def test_customer_and_vehicle_are_added_without_scripts(request: pytest.FixtureRequest) -> None:
    page: Page = request.getfixturevalue("office")(office(), scripts=False)
    page.goto("/customers/add")
    page.get_by_label("Name", exact=True).fill("Ella Holmere")
    page.get_by_role("button", name="Another phone").click()
    page.locator("[name=phones-1-number]").fill("201 555 0124")
    page.get_by_role("button", name="Add customer").click()
    page.get_by_role("link", name="Add vehicle").click()
    page.get_by_label("Plate").fill("klm 204")
    page.get_by_role("button", name="Add vehicle").click()
    expect(page.get_by_role("heading", name="Ella Holmere")).to_be_visible()
    assert Vehicle.objects.get().customer == Customer.objects.get()


def test_vin_is_read_while_typed_and_its_year_taken_over(request: pytest.FixtureRequest) -> None:
    customer = ella()
    page: Page = request.getfixturevalue("office")(office())
    page.goto(f"/customers/{customer.pk}/vehicles/add")
    page.get_by_label("VIN").type(f"{VIN[:9]}IKP04278")
    expect(page.locator("mark")).to_have_text("I")
    page.get_by_label("VIN").fill(VIN.lower())
    expect(page.get_by_text("Check digit is right")).to_be_visible()
    page.get_by_role("button", name="1989").click()
    expect(page.get_by_label("Year")).to_have_value("1989")
    page.get_by_role("button", name="Add vehicle").click()
    expect(page.get_by_role("link", name="1989")).to_be_visible()
    assert Vehicle.objects.get().vin == VIN


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["office", "phone"])
def test_pages_break_no_rule_that_axe_sees(
    request: pytest.FixtureRequest, axe: Callable[[Page], None], scheme: str, size: str
) -> None:
    boss, customer = owner(), ella()
    car = add_vehicle(actor=None, customer=customer, plate="KLM 204", vin=VIN)
    open_page: Opener = request.getfixturevalue(size)
    page = open_page(boss, scheme=scheme)
    paths = ["/people", "/people/add", f"/people/{boss.pk}", "/shop", "/my-password", "/customers", "/customers/add"]
    paths += [f"/customers/{customer.pk}", f"/customers/{customer.pk}/addresses/add", f"/vehicles/{car.pk}"]
    paths += [f"/vehicles/{car.pk}/change"]
    for path in paths:
        page.goto(path)
        page.wait_for_load_state("networkidle")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    stranger = open_page(None, scheme=scheme)
    stranger.goto("/sign-in")
    axe(stranger)
