"""The check in a real browser at 390 px: under a minute for a technician's hands, axe-clean in both themes, and without
scripts by a typed signature."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from jobs.models import AuthorityCheck, Outcome, Visit
from shop.models import Shop
from shop.staff.models import Person
from tests.cast import technician
from tests.jobs.authority.rows import VIN, on_site

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# Slow hands: seconds to find and tap one thing, and to type one character with gloves on.
TAP, CHARACTER = 1.0, 0.35
A_MINUTE = 60.0


@pytest.fixture
def me() -> Person:
    Shop.current()
    return technician(name="Jonas Brackwater")


@pytest.fixture
def visit(me: Person) -> Visit:
    return on_site(me)


def sign(page: Page) -> None:
    pad = page.locator("[data-sign] canvas")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    assert box
    page.mouse.move(box["x"] + 30, box["y"] + box["height"] * 0.6)
    page.mouse.down()
    for step in range(1, 14):
        page.mouse.move(box["x"] + 30 + step * 20, box["y"] + box["height"] * (0.3 if step % 2 else 0.7))
    page.mouse.up()


def tap(page: Page, words: str) -> None:
    time.sleep(TAP)
    page.get_by_text(words, exact=True).first.tap()


def test_the_check_takes_less_than_a_minute(phone: Callable[..., Page], visit: Visit, me: Person) -> None:
    page = phone(me)
    page.goto(f"/round/{visit.pk}")
    begun = time.monotonic()
    page.get_by_role("link", name="Check authority").tap()
    for words in ("Owner", "Driver's licence", "Registration"):
        tap(page, words)
    time.sleep(TAP)
    page.locator("#id_vin_on_car").press_sequentially(VIN, delay=1000 * CHARACTER)
    expect(page.locator("#vins")).to_contain_text("The VINs agree.")
    time.sleep(TAP)
    sign(page)
    time.sleep(3 * TAP)
    page.get_by_role("button", name="Check", exact=True).last.tap()
    expect(page.get_by_text("Check passed").first).to_be_visible()
    assert time.monotonic() - begun < A_MINUTE
    check = AuthorityCheck.objects.get()
    assert (check.outcome, check.vins_agree, check.is_signature_drawn) == (Outcome.PASSED, True, True)
    expect(page.get_by_role("link", name="Finish")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_lacks_is_shown_and_the_drawn_signature_stays(
    scheme: str, phone: Callable[..., Page], visit: Visit, me: Person, axe: Callable[[Page], None]
) -> None:
    page = phone(me, scheme=scheme)
    page.goto(f"/round/{visit.pk}/authority")
    axe(page)
    page.locator("#id_vin_on_car").fill(VIN[:-1] + "9")
    expect(page.locator("#vins mark").first).to_be_visible()
    sign(page)
    page.get_by_role("button", name="Check", exact=True).last.tap()
    expect(page.locator("#lacks")).to_contain_text("character 17 is 9, not 8")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    axe(page)
    drawn = (
        "document.querySelector('[data-sign] canvas').getContext('2d').getImageData(0, 0, 600, 220).data.some(n => n)"
    )
    assert page.evaluate(drawn)
    page.get_by_role("button", name="Sign anew").tap()
    assert not page.evaluate(drawn) and page.locator("[name=signature]").input_value() == ""


def test_a_dot_is_refused_beside_the_pad(phone: Callable[..., Page], visit: Visit, me: Person) -> None:
    page = phone(me)
    page.goto(f"/round/{visit.pk}/authority")
    page.locator("[data-sign] canvas").click()
    page.get_by_role("button", name="Check", exact=True).last.tap()
    expect(page.get_by_text("That is too little to be a signature")).to_be_visible()
    assert not AuthorityCheck.objects.exists()


def test_without_scripts_the_name_is_typed(phone: Callable[..., Page], visit: Visit, me: Person) -> None:
    page = phone(me, scripts=False)
    page.goto(f"/round/{visit.pk}/authority")
    for words in ("Owner", "Passport", "Registration"):
        page.get_by_text(words, exact=True).first.tap()
    page.locator("#id_vin_on_car").fill(VIN)
    page.get_by_text("Cannot sign with a finger").tap()
    page.locator("#id_typed_name").fill("Ella Holmere")
    page.locator("#id_witness").fill("Hand in plaster, seen by Jonas")
    # Enter does what the large button does, not what the folded ones do.
    page.locator("#id_witness").press("Enter")
    expect(page.get_by_text("Check passed").first).to_be_visible()
    assert AuthorityCheck.objects.get().is_signature_drawn is False
