"""A technician on the phone, from "code not found, door lock read, two cuts missing" to the keys handed over:
what the phone shows is tried in a car whose key only this test knows."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from jobs.models import JobEvent, KeyStage, PartUse
from jobs.models.keywork import KeyWork
from shop.stock.models import SpoiledReason
from tests.jobs.keys.rows import CUTS, OTHER_CODE, Bench, bench, code_book
from vehicles.models import CodeBookLook

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Opener = Callable[..., Page]
Look = Callable[[Page], None]


@pytest.fixture
def made() -> Bench:
    made = bench()
    code_book(made, {"AX417": CUTS})
    return made


def look(page: Page, axe: Look, name: str) -> None:
    """Every page on the way: no fault that axe sees, nothing beyond the edge, one next step at least 56 px high."""
    axe(page)
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{name} is {wide} px too wide"
    for step in page.locator(".next-step").all():
        box = step.bounding_box()
        assert box and box["height"] >= 56, name


def next_step(page: Page, words: str) -> None:
    page.locator(".next-step", has_text=words).first.click()


@pytest.mark.parametrize(
    ("scheme", "width", "scripts"), [("light", 390, True), ("dark", 360, True), ("light", 390, False)]
)
def test_code_not_found_door_read_two_cuts_missing_to_the_key(
    made: Bench, scheme: str, width: int, scripts: bool, phone: Opener, live: str, axe: Look
) -> None:
    page = phone(made.me, scheme=scheme, scripts=scripts)
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(f"/round/{made.visit.pk}")
    next_step(page, "Make the key")
    look_at = (lambda name: look(page, axe, name)) if scripts else (lambda name: None)
    look_at("system")
    page.get_by_role("button", name=re.compile("Alder A6")).click()
    look_at("ways")
    code_is_not_found(page, look_at)
    read_the_door(page, look_at)
    choose_the_blank(page, look_at)
    tries = try_until_it_turns(page, look_at)
    cut_the_final_keys(page, look_at)
    check_what_was_kept(made, tries)


def code_is_not_found(page: Page, look_at: Callable[[str], None]) -> None:
    page.get_by_role("link", name=re.compile("A code")).click()
    page.get_by_label("Code").fill(OTHER_CODE)
    page.get_by_label("Where it was found").fill("Door lock")
    look_at("code")
    next_step(page, "Look it up")
    expect(page.locator("main")).to_contain_text("stands in no code book")
    look_at("not found")


def read_the_door(page: Page, look_at: Callable[[str], None]) -> None:
    page.get_by_role("link", name=re.compile("A lock that was read")).click()
    expect(page.locator("main")).to_contain_text("The door reads these cuts")
    for place, label in enumerate(CUTS[2:], 3):
        page.locator(f"input[name=cut_{place}][value='{label}']").check(force=True)
    look_at("cuts")
    next_step(page, "Find the keys")
    expect(page.locator("main")).to_contain_text("9 keys fit")
    # Three: the longest antichain of a 3 x 3 grid (R. P. Dilworth, Annals of Mathematics 51, 1950).
    expect(page.locator("main")).to_contain_text("3 trial blanks are enough, and fewer cannot do")
    page.get_by_text("Why not fewer").click()
    assert page.locator(".proof li").count() == 3
    look_at("plan")


def choose_the_blank(page: Page, look_at: Callable[[str], None]) -> None:
    next_step(page, "Choose the trial blank")
    look_at("blank")
    next_step(page, "Take this blank")


def shown_cuts(page: Page) -> tuple[str, ...]:
    return tuple(page.locator(".key-now b").all_inner_texts())


def try_until_it_turns(page: Page, look_at: Callable[[str], None]) -> int:
    """Cuts what the page says and answers as the car does; on the way withdraws one answer and breaks one blank."""
    for number in range(1, 20):
        page.locator(".replies").wait_for()
        look_at(f"try {number}")
        cuts = shown_cuts(page)
        if number == 2:
            withdraw_and_answer_again(page)
        if number == 3:
            break_the_blank(page)
            cuts = shown_cuts(page)
        if cuts == CUTS:
            page.get_by_role("button", name="Turns", exact=True).click()
            expect(page.locator("h1")).to_have_text("Key found")
            look_at("found")
            return number
        page.get_by_role("button", name="Turns the door only").click()
        expect(page.locator(".key-status, .big-figure").first).not_to_contain_text(f"Try {number} ")
    raise AssertionError("It never turned.")


def withdraw_and_answer_again(page: Page) -> None:
    before = shown_cuts(page)
    page.get_by_role("button", name="Withdraw").click()
    expect(page.locator("main")).to_contain_text("withdrawn")
    expect(page.locator(".key-status")).to_contain_text("9 keys left")
    page.get_by_role("button", name="Turns the door only").click()
    expect(page.locator(".key-status")).to_contain_text("8 keys left")
    assert shown_cuts(page) == before


def break_the_blank(page: Page) -> None:
    page.get_by_text("A blank broke, or something else").click()
    page.get_by_role("button", name=re.compile("broke or is miscut")).click()
    expect(page.locator("main")).to_contain_text("Try 4")


def cut_the_final_keys(page: Page, look_at: Callable[[str], None]) -> None:
    next_step(page, "Cut the final key")
    assert shown_cuts(page) == CUTS
    page.get_by_label(re.compile("How many")).fill("2")
    for lock in ("Ignition", "Door"):
        page.get_by_label(lock).check()
    look_at("final")
    next_step(page, "Keys cut and tried")
    expect(page.locator(".big-figure")).to_have_text("2 keys")
    look_at("made")
    assert " ".join(CUTS) not in page.content() and "".join(CUTS) not in page.content()


def check_what_was_kept(made: Bench, tries: int) -> None:
    work = KeyWork.objects.get(job=made.job)
    assert (work.stage, work.keys_cut, work.turned_in) == (KeyStage.MADE, 2, ["ignition", "door"])
    assert tries <= 9 and work.tries >= 1
    parts = PartUse.objects.standing().filter(job=made.job)
    trial = sum(part.quantity for part in parts.filter(item=made.trial))
    assert made.held(made.trial) == 20 - trial and trial == sum(1 for _ in parts.filter(item=made.trial))
    assert parts.filter(item=made.trial, movement__reason=SpoiledReason.TRIAL).count() >= 1
    assert sum(part.quantity for part in parts.filter(item=made.final)) == 2 and made.held(made.final) == 18
    assert CodeBookLook.objects.get().job_number == str(made.job.number)
    told = " ".join(JobEvent.objects.filter(job=made.job).values_list("words", flat=True))
    assert OTHER_CODE not in told and " ".join(CUTS) not in told and "2 keys cut" in told
