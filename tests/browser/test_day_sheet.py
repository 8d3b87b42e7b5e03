"""The day sheet in a real browser: placing visits by pointer and keyboard, and what happens when two want one slot."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from jobs.actions import move_visit
from jobs.models import Job, Visit
from jobs.states import JobState
from shop.staff.models import Person
from tests import cast
from tests.jobs.desk import MINUTE, booked, call, on_shift, shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Opener = Callable[..., Page]


@pytest.fixture
def tomorrow() -> datetime:
    """Midnight of a day without a line at now, so that nothing depends on the hour at which the test runs."""
    shop()
    return datetime.combine(timezone.now().date() + timedelta(days=1), time(), UTC)


@pytest.fixture
def crew(tomorrow: datetime) -> tuple[Person, Person]:
    return on_shift(name="Bo Ray"), on_shift(name="Ines Moor")


def open_sheet(office: Opener, day: datetime) -> Page:
    page = office(cast.office(name="Nell Osgood"))
    page.goto(f"/day/{day:%Y-%m-%d}")
    expect(page.locator(".diary")).to_be_visible()
    return page


def column(page: Page, person: Person) -> Locator:
    return page.locator(f'.diary-column[data-technician="{person.pk}"]')


def point(page: Page, person: Person, hours: float) -> tuple[float, float]:
    """Where so many hours after seven lie in a technician's column, once it is in sight."""
    box = column(page, person).bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] * hours / 13


def drag(page: Page, block: Locator, target: tuple[float, float], grip: float = 6) -> None:
    """Carries a block, held `grip` pixels under its upper edge, and does not let go."""
    block.scroll_into_view_if_needed()
    box = block.bounding_box()
    assert box
    page.mouse.move(box["x"] + 40, box["y"] + grip)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + grip + 12, steps=3)
    page.mouse.move(target[0], target[1] + (grip if "visit" in (block.get_attribute("class") or "") else 0), steps=8)


def saying(page: Page, words: str) -> None:
    expect(page.locator("#say")).to_contain_text(words)


def told(page: Page, words: str | re.Pattern[str]) -> None:
    expect(page.locator(".toast").last).to_contain_text(words)


def test_a_call_is_dragged_into_the_diary_and_taken_back(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    job = call(kind_of_work="rekey", expected_minutes=45)
    page = open_sheet(office, tomorrow)
    drag(page, page.locator(f"#call-{job.number}"), point(page, crew[1], 3))
    saying(page, "Ines Moor, 10:00 to 10:45.")
    expect(page.locator(".visit-ghost")).to_contain_text("10:00–10:45")
    page.mouse.up()
    told(page, f"Job {job.number} is booked: Ines Moor")
    visit = Visit.objects.get()
    assert (visit.technician, visit.starts_at) == (crew[1], tomorrow + timedelta(hours=10))
    expect(page.locator(f"#call-{job.number}")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(f"#call-{job.number}")).to_be_visible()
    assert Job.objects.get().state == JobState.WAITING


def test_a_visit_is_moved_by_its_middle_and_lengthened_by_its_edge(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    visit = booked(crew[0], tomorrow + timedelta(hours=9))
    page = open_sheet(office, tomorrow)
    block = page.locator(f"#visit-{visit.pk}")
    drag(page, block, point(page, crew[1], 4.5))
    page.mouse.up()
    told(page, "Ines Moor, ")
    box = block.bounding_box()
    assert box
    page.mouse.move(box["x"] + 40, box["y"] + box["height"] - 3)
    page.mouse.down()
    page.mouse.move(box["x"] + 40, box["y"] + box["height"] * 1.5, steps=6)
    saying(page, "Ines Moor, 11:30 to 13:00.")
    page.mouse.up()
    told(page, "11:30 to 13:00")
    visit.refresh_from_db()
    assert (visit.technician, visit.starts_at) == (crew[1], tomorrow + timedelta(hours=11, minutes=30))
    assert visit.ends_at == tomorrow + timedelta(hours=13)


def test_what_would_break_is_said_before_it_is_dropped_and_escape_drops_nothing(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    there = booked(crew[0], tomorrow + timedelta(hours=9))
    promise = {"promise_from": tomorrow + timedelta(hours=8), "promise_until": tomorrow + timedelta(hours=9)}
    job = call(expected_minutes=240, **promise)
    page = open_sheet(office, tomorrow)
    drag(page, page.locator(f"#call-{job.number}"), point(page, crew[0], 2.5))
    saying(page, f"overlaps job {there.job.number}")
    saying(page, "30 min after the promise")
    page.mouse.move(*point(page, crew[1], 6.5))
    saying(page, "ends 30 min after the shift")
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(page.locator(".visit-ghost")).to_have_count(0)
    saying(page, "Drag a call or a visit")
    assert Visit.objects.count() == 1


def test_whoever_comes_second_reads_why_and_loses_nothing(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    job = call(expected_minutes=60)
    page = open_sheet(office, tomorrow)
    # Meanwhile somebody else books that very hour; this page does not know yet.
    first = booked(crew[1], tomorrow + timedelta(hours=10))
    drag(page, page.locator(f"#call-{job.number}"), point(page, crew[1], 3))
    page.mouse.up()
    told(page, f"Ines Moor already has job {first.job.number} from 10:00 to 11:00. Nothing was changed.")
    expect(page.locator(f"#call-{job.number}")).to_be_visible()
    expect(page.locator(f"#visit-{first.pk}")).to_be_visible()
    assert Job.objects.get(pk=job.pk).state == JobState.WAITING


def test_a_visit_that_another_moved_meanwhile_stays_where_they_put_it(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    visit = booked(crew[0], tomorrow + timedelta(hours=9))
    page = office(cast.office(name="Nell Osgood"))
    # A screen that has not heard of it: its stream of news is open and says nothing.
    page.route("**/live", lambda route: route.fulfill(content_type="text/event-stream", body=""))
    page.goto(f"/day/{tomorrow:%Y-%m-%d}")
    start = tomorrow + timedelta(hours=14)
    move_visit(visit, actor=None, technician=crew[1], start=start, end=start + 60 * MINUTE)
    drag(page, page.locator(f"#visit-{visit.pk}"), point(page, crew[0], 5))
    page.mouse.up()
    told(page, "Somebody moved this visit meanwhile: Ines Moor, 14:00 to 15:00.")
    expect(column(page, crew[1]).locator(f"#visit-{visit.pk}")).to_be_visible()


def test_a_call_is_booked_and_moved_by_keyboard_alone(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    promise = {"promise_from": tomorrow + timedelta(hours=10), "promise_until": tomorrow + timedelta(hours=11)}
    job = call(expected_minutes=30, **promise)
    page = open_sheet(office, tomorrow)
    page.locator(f"#call-{job.number}").focus()
    page.keyboard.press("b")
    expect(page.locator("#say-aloud")).to_have_text("Bo Ray, 10:00 to 10:30.")
    for key in ("ArrowRight", "ArrowDown", "ArrowDown", "+", "Enter"):
        page.keyboard.press(key)
    told(page, f"Job {job.number} is booked: Ines Moor")
    visit = Visit.objects.get()
    assert (visit.starts_at, visit.ends_at) == (
        tomorrow + timedelta(hours=10, minutes=30),
        tomorrow + timedelta(hours=11, minutes=15),
    )
    expect(page.locator(f"#visit-{visit.pk}")).to_be_focused()
    page.keyboard.press("m")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Escape")
    expect(page.locator("#say-aloud")).to_have_text(f"Left job {job.number} where it was.")
    page.keyboard.press("m")
    page.keyboard.press("-")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    told(page, "10:15 to 10:45")
    expect(page.locator(f"#visit-{visit.pk}")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#chosen")).to_contain_text("Ines Moor")
    assert page.url.endswith(f"?job={job.number}")


def test_the_sheet_takes_in_what_others_did_without_touching_what_is_typed(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    job = call()
    page = open_sheet(office, tomorrow)
    page.locator(f"#call-{job.number}").click()
    page.get_by_text("Note", exact=True).first.click()
    page.locator("#note-words").fill("Half a thou")
    visit = booked(crew[0], tomorrow + timedelta(hours=9))
    page.locator("#diary-scroll").evaluate("pane => pane.scrollTop = 120")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.locator(f"#visit-{visit.pk}")).to_be_attached()
    expect(page.locator("#note-words")).to_have_value("Half a thou")
    expect(page.locator("#note-words")).to_be_focused()
    assert page.locator("#diary-scroll").evaluate("pane => pane.scrollTop") == 120


def test_a_clash_in_the_form_is_said_there_with_what_was_typed(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    booked(crew[0], tomorrow + timedelta(hours=9))
    job = call()
    page = open_sheet(office, tomorrow)
    page.locator(f"#call-{job.number}").click()
    page.locator("#place-start").fill(f"{tomorrow:%Y-%m-%d}T09:30")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.locator("#part-chosen .errorlist")).to_contain_text("Bo Ray already has job")
    expect(page.locator("#place-start")).to_have_value(f"{tomorrow:%Y-%m-%d}T09:30")
    page.locator("#place-start").fill(f"{tomorrow:%Y-%m-%d}T10:00")
    page.get_by_role("button", name="Book", exact=True).click()
    told(page, f"Job {job.number} is booked: Bo Ray")


def test_the_sheet_works_without_scripts(office: Opener, crew: tuple[Person, Person], tomorrow: datetime) -> None:
    job = call()
    page = office(cast.office(), scripts=False)
    page.goto(f"/day/{tomorrow:%Y-%m-%d}")
    page.locator(f"#call-{job.number}").click()
    page.locator("#place-start").fill(f"{tomorrow:%Y-%m-%d}T10:00")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.locator(".toast")).to_contain_text(f"Job {job.number} is booked")
    assert Visit.objects.get().starts_at == tomorrow + timedelta(hours=10)


def test_a_finger_that_holds_carries_and_one_that_swipes_scrolls(
    phone: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    visit = booked(crew[0], tomorrow + timedelta(hours=9))
    page = phone(cast.office())
    page.goto(f"/day/{tomorrow:%Y-%m-%d}")
    block = page.locator(f"#visit-{visit.pk}")
    page.locator("#diary").evaluate("part => part.scrollIntoView()")
    block.scroll_into_view_if_needed()
    finger = page.context.new_cdp_session(page)
    box = block.bounding_box()
    assert box
    x, y = box["x"] + 30, box["y"] + 10

    def touch(kind: str, *points: tuple[float, float]) -> None:
        sent = {"type": kind, "touchPoints": [{"x": at_x, "y": at_y} for at_x, at_y in points]}
        finger.send("Input.dispatchTouchEvent", sent)

    touch("touchStart", (x, y))
    for step in range(1, 6):
        touch("touchMove", (x, y - 12 * step))
    touch("touchEnd")
    expect(page.locator(".visit-ghost")).to_have_count(0)
    assert Visit.objects.get().starts_at == visit.starts_at

    page.locator("#diary-scroll").evaluate("pane => pane.scrollTop = 0")
    page.wait_for_timeout(600)
    box = block.bounding_box()
    assert box
    x, y = box["x"] + 30, box["y"] + 10
    touch("touchStart", (x, y))
    page.wait_for_timeout(450)
    for step in range(1, 9):
        touch("touchMove", (x, y + box["height"] * step / 8))
    saying(page, "Bo Ray, 10:00 to 11:00.")
    touch("touchEnd")
    told(page, "Bo Ray, ")
    assert Visit.objects.get().starts_at == tomorrow + timedelta(hours=10)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nobody_is_shut_out(
    office: Opener,
    phone: Opener,
    axe: Callable[[Page], None],
    crew: tuple[Person, Person],
    tomorrow: datetime,
    scheme: str,
) -> None:
    visit = booked(crew[0], tomorrow + timedelta(hours=9), locked_in="child")
    call(locked_in="animal")
    for opened in (office(cast.office(), scheme=scheme), phone(cast.office(), scheme=scheme)):
        for path in (f"/day/{tomorrow:%Y-%m-%d}?job={visit.job.number}", f"/jobs/{visit.job.number}", "/jobs"):
            opened.goto(path)
            axe(opened)
            assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_the_keys_are_for_the_chosen_job_when_the_focus_is_nowhere(
    office: Opener, crew: tuple[Person, Person], tomorrow: datetime
) -> None:
    promise = {"promise_from": tomorrow + timedelta(hours=10), "promise_until": tomorrow + timedelta(hours=11)}
    job = call(expected_minutes=30, **promise)
    page = open_sheet(office, tomorrow)
    page.goto(f"/day/{tomorrow:%Y-%m-%d}?job={job.number}")
    expect(page.locator(f"#call-{job.number}")).to_be_visible()
    page.keyboard.press("b")
    saying(page, "Bo Ray, 10:00 to 10:30.")
    page.keyboard.press("Enter")
    told(page, f"Job {job.number} is booked: Bo Ray")
