"""The phone's pages in a real browser: sizes, large letters, both themes, with and without script."""

from collections.abc import Callable
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Page

from jobs.actions import set_off
from jobs.models import PartUse, Photo, Visit
from jobs.states import VisitState
from shop.staff.models import Person
from shop.stock.actions import receive
from shop.stock.models import Balance
from tests.cast import technician
from tests.jobs.round_rows import visit_of
from tests.shop.stock.stock_rows import item, van

pytestmark = pytest.mark.browser
Opener = Callable[..., Page]

# Everything that can be tapped and is seen, as width, height and words; a field counts with its label when inside one.
TARGETS = """() => [...document.querySelectorAll(`main a, main button, main input, main select, main textarea,
  main summary, .phone-head a, .phone-head button, .bottom-bar a, .bottom-bar button`)]
  .filter(each => each.type !== 'hidden' && each.checkVisibility())
  .map(each => [(each.closest('label') || each).getBoundingClientRect(), each])
  .map(([box, each]) => [box.width, box.height, (each.ariaLabel || each.textContent || each.name || '').trim()])"""


def told_in_full(me: Person) -> Visit:
    """A visit with everything on its page that a page can have."""
    return visit_of(
        me,
        locked_in="child",
        access_notes="Gate code 4471, level 3, bay 41.",
        owner_name="Quillfeather Provisions and Chandlery",
        proof_offered="Registration in the glovebox",
        latitude="48.100000",
        longitude="-30.200000",
    )


def stocked(me: Person) -> Any:
    kept, place = item(number="T-310", name="Transponder blank, Aldren Wren"), van("Van 1", me)
    receive(kept, actor=None, place=place, quantity=3, unit_cost=Decimal(2))
    return kept


def pages_of(visit: Visit, kept: Any) -> list[str]:
    one = f"/round/{visit.pk}"
    names = ["", "/note", "/photo", "/vin", "/times", "/parts", f"/parts/{kept.pk}"]
    return ["/round", "/van", *(one + name for name in names)]


def unfold(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")


@pytest.mark.parametrize("width", [360, 390])
def test_every_target_can_be_hit_with_a_glove_and_the_next_step_is_the_largest(width: int, phone: Opener) -> None:
    me = technician()
    visit, kept = told_in_full(me), stocked(me)
    set_off(visit, actor=me)
    page = phone(me)
    page.set_viewport_size({"width": width, "height": 740})
    for path in pages_of(visit, kept):
        page.goto(path)
        unfold(page)
        small = [each for each in page.evaluate(TARGETS) if each[0] < 48 or each[1] < 48]
        assert not small, f"{path}: {small}"
        if step := page.locator(".next-step").all():
            assert len(step) == 1
            box = step[0].bounding_box()
            assert box and box["height"] >= 56 and box["width"] > width / 2, path
            buttons = page.evaluate(TARGETS.replace("main a, main button", "main .button"))
            assert box["width"] * box["height"] >= max(w * h for w, h, _ in buttons if w), path


def test_letters_twice_as_large_need_no_scrolling_sideways(phone: Opener) -> None:
    me = technician()
    visit, kept = told_in_full(me), stocked(me)
    page = phone(me)
    page.set_viewport_size({"width": 360, "height": 740})
    for path in pages_of(visit, kept):
        page.goto(path)
        unfold(page)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, path


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(scheme: str, phone: Opener, axe: Callable[[Page], None]) -> None:
    me = technician()
    visit, kept = told_in_full(me), stocked(me)
    page = phone(me, scheme=scheme)
    for path in pages_of(visit, kept):
        page.goto(path)
        unfold(page)
        axe(page)


@pytest.mark.parametrize("scripts", [True, False])
def test_work_is_done_with_and_without_script(scripts: bool, phone: Opener) -> None:
    me = technician()
    visit, kept = told_in_full(me), stocked(me)
    page = phone(me, scripts=scripts)
    page.goto("/round")
    page.get_by_role("button", name="Set off").click()
    page.get_by_role("button", name="Arrive").click()
    page.get_by_role("link", name="Parts").click()
    page.get_by_role("button", name="Use 1 Transponder").click()
    page.get_by_text("On this job").wait_for()
    page.get_by_role("button", name="Take back").click()
    page.get_by_label("Find by two letters").fill("al")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="Transponder").first.click()
    if scripts:
        page.get_by_role("button", name="One more").click()
    else:
        page.get_by_label("How many").fill("2")
    page.get_by_label("Spoiled: miscut").check()
    page.get_by_role("button", name="Keep").click()
    page.get_by_role("link", name="Back to the job").click()
    page.get_by_role("link", name="Note").click()
    page.get_by_label("What was done").fill("Two miscut, clamp was worn.")
    page.get_by_role("button", name="Keep note").click()
    page.get_by_text("Two miscut, clamp was worn.").first.wait_for()
    visit.refresh_from_db()
    assert visit.state == VisitState.ON_SITE
    standing = PartUse.objects.standing().get()
    assert (standing.quantity, standing.movement.reason) == (2, "miscut")
    assert Balance.objects.get(item=kept).quantity == 1


def test_photo_is_seen_before_it_is_kept_and_afterwards_on_the_visit(
    phone: Opener, eventually: Callable[..., object]
) -> None:
    me = technician()
    visit = told_in_full(me)
    made = BytesIO()
    Image.new("RGB", (1200, 800), "teal").save(made, "JPEG")
    page = phone(me)
    page.goto(f"/round/{visit.pk}/photo")
    page.set_input_files("[type=file]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()})
    page.locator("[data-photo-seen]").wait_for(state="visible")
    page.get_by_role("button", name="Keep photo").click()
    shown = page.locator(".photos img")
    shown.scroll_into_view_if_needed()
    # Not wait_for_function: it evaluates text in the page, which the content policy forbids.
    eventually(lambda: shown.evaluate("image => image.naturalWidth > 0"))
    assert Photo.objects.get().job == visit.job


def test_impatient_taps_do_a_thing_once(phone: Opener) -> None:
    me = technician()
    visit = told_in_full(me)
    page = phone(me)
    page.goto(f"/round/{visit.pk}")
    page.get_by_role("button", name="Set off").dblclick()
    page.get_by_role("button", name="Arrive").wait_for()
    assert visit.events.filter(kind="set_off").count() == 1
    assert Visit.objects.get().state == VisitState.ON_THE_WAY
