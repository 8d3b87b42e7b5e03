"""Families and procedures in a real browser, on the desk and on the phone, in both themes."""

import time
from collections.abc import Callable
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from shop.stock.actions import add_item, add_place, receive
from tests.cast import office as office_person
from tests.cast import owner, technician
from tests.vehicles.know.made import brisk, in_force
from vehicles.actions import add_variant
from vehicles.models import ProcedureVersion

pytestmark = pytest.mark.browser
Opener = Callable[..., Page]
Look = Callable[[Page], None]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_technician_proposes_on_the_phone_and_the_office_accepts(
    live: str, office: Opener, phone: Opener, axe: Look, scheme: str
) -> None:
    family = brisk()
    add_variant(family, actor=None, name="Late", sign="Two lights")
    in_force(family, owner())
    page = phone(technician(), scheme=scheme)
    page.goto("/vehicles")
    axe(page)
    page.get_by_role("link", name="Halden Brisk").click()
    axe(page)
    page.get_by_role("link", name="All keys lost").click()
    axe(page)
    page.get_by_role("link", name="Propose a change").click()
    page.get_by_role("button", name="Add a step after step 1", exact=True).click()
    expect(page.locator("[id='2-words']")).to_be_focused()
    page.locator("[id='2-words']").fill("Switch the rear window off")
    expect(page.locator("[id='2-wait']")).to_be_hidden()
    page.locator("[id='2-kind']").select_option("wait")
    page.locator("[id='2-wait']").fill("30 h")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.get_by_role("button", name="Propose", exact=True).click()
    expect(page.get_by_text("30 h is longer than a visit")).to_be_visible()
    axe(page)
    page.locator("[id='2-wait']").fill("3 min")
    page.get_by_role("button", name="Propose", exact=True).click()
    expect(page.get_by_text("Version 2", exact=False).first).to_be_visible()
    desk = office(office_person(), scheme=scheme)
    desk.goto("/vehicles/proposals")
    desk.get_by_role("link", name="All keys lost, Halden Brisk").click()
    expect(desk.get_by_text("Switch the rear window off")).to_be_visible()
    axe(desk)
    desk.get_by_role("button", name="Accept version 2").click()
    expect(desk.get_by_role("heading", level=1)).to_have_text("All keys lost")
    assert ProcedureVersion.objects.accepted().get().number == 2


def test_what_is_known_appears_on_the_call_page_within_a_second(live: str, office: Opener, axe: Look) -> None:
    boss = owner()
    item = add_item(actor=boss, number="T-1", name="Transponder blank", kind="transponder_blank", price=9)
    receive(item, actor=boss, place=add_place(actor=boss, name="Shelf", kind="shelf"), quantity=3, unit_cost=Decimal(4))
    brisk(items=[(item, "transponder")])
    page = office(office_person())
    page.goto("/calls/new")
    known = page.locator("#vehicle-known")
    page.locator("#id_make").fill("Halden")
    page.locator("#id_model").fill("Brisk")
    expect(known).to_contain_text("Which family is it?")
    begun = time.monotonic()
    page.locator("#id_year").fill("2015")
    expect(known).to_contain_text("Shelf 3")
    assert time.monotonic() - begun < 1
    axe(page)
