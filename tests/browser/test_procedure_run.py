"""A procedure run on the phone, 390 px wide, in a real browser: the network cut in the middle, the page reloaded during
the wait, the phone asleep until after it. Nothing is lost and the timer stays true."""

import json
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.models import ProcedureRun, StepDone
from tests.jobs.running.rows import SUPPLY, WAIT, Car, car

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Opener = Callable[..., Page]
Look = Callable[[Page], None]
Eventually = Callable[..., Any]
MARK = re.compile(r"/mark$")


@pytest.fixture
def made() -> Car:
    return car()


def look(page: Page, axe: Look, name: str) -> None:
    """No fault that axe sees, nothing beyond the edge, the one next step at least 56 px high."""
    axe(page)
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{name} is {wide} px too wide"
    for step in page.locator(".next-step:visible").all():
        box = step.bounding_box()
        assert box and box["height"] >= 56, name


def press(page: Page, words: str = "Done") -> None:
    page.locator(".next-step:visible", has_text=re.compile(f"^{words}$")).click()


def at_step(page: Page, number: int) -> None:
    expect(page.locator("h1")).to_have_text(f"Step {number} of 6")


def measure(page: Page, value: str) -> None:
    page.locator(".run-value:visible").fill(value)
    press(page)


def left(page: Page) -> int:
    """Seconds on the clock of the wait."""
    minutes, seconds = page.locator("[data-clock]:visible").inner_text().split(":")
    return int(minutes) * 60 + int(seconds)


def begin(page: Page, made: Car) -> None:
    """From the visit, over the variant's sign and what to take along."""
    page.goto(f"/round/{made.visit.pk}")
    page.get_by_role("link", name="Procedure").click()
    page.get_by_role("button", name=re.compile("Late box")).click()
    expect(page.locator("main")).to_contain_text("Battery charger")
    press(page, "Begin")
    at_step(page, 1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_run_without_signal_in_its_middle_and_reloaded_during_the_wait_loses_nothing(
    made: Car, scheme: str, phone: Opener, live: str, axe: Look, eventually: Eventually
) -> None:
    page = phone(made.me, scheme=scheme)
    page.clock.install()
    begin(page, made)
    # The phone's clock will jump ahead of the server's.
    ProcedureRun.objects.update(started_at=timezone.now() - timedelta(hours=1))
    look(page, axe, "measure")
    measure(page, "1260")
    expect(page.get_by_role("alert")).to_contain_text("Is 12.60 V meant?")
    measure(page, "12,6")
    at_step(page, 2)
    eventually(lambda: StepDone.objects.filter(step=made.step(SUPPLY)).exists())

    cut(page)
    measure(page, "0.1")
    page.get_by_text("Something odd").locator("visible=true").click()
    page.get_by_label(re.compile("What was odd")).locator("visible=true").fill("Door switch sticks")
    press(page)
    at_step(page, 4)
    expect(page.locator("#signal")).to_have_text("2 steps waiting for signal")
    press(page, "Start the wait")
    expect(page.locator("#signal")).to_have_text("3 steps waiting for signal")
    look(page, axe, "wait without signal")
    assert StepDone.objects.count() == 1
    page.clock.fast_forward("02:00")
    assert 475 <= left(page) <= 480
    reload_while_nothing_can_be_sent(page)
    at_step(page, 4)
    assert 470 <= left(page) <= 480
    expect(page.locator("#signal")).to_have_text("3 steps waiting for signal")

    restore(page)
    eventually(lambda: StepDone.objects.count() == 4)
    expect(page.locator("#signal")).to_be_empty()
    assert sorted(StepDone.objects.values_list("step__position", "is_begin")) == [
        (1, False), (2, False), (3, False), (4, True),
    ]  # fmt: skip
    begun = StepDone.objects.get(is_begin=True)
    assert timedelta(minutes=1, seconds=50) < begun.recorded_at - begun.at < timedelta(minutes=2, seconds=30)
    assert StepDone.objects.get(step__position=3).note == "Door switch sticks"
    sleep_until_after_the_wait(page)
    finish(page, made, axe)


def cut(page: Page) -> None:
    page.context.set_offline(True)


def reload_while_nothing_can_be_sent(page: Page) -> None:
    """There is signal for the page, and none for what waits: as on the edge of a car park."""
    page.route(MARK, lambda route: route.abort("internetdisconnected"))
    page.context.set_offline(False)
    page.reload()


def restore(page: Page) -> None:
    page.unroute(MARK)
    page.clock.fast_forward("00:06")


def sleep_until_after_the_wait(page: Page) -> None:
    """The phone slept: no timer of the page ran, and its clock stands three minutes after the end of the wait."""
    seconds = left(page)
    page.clock.fast_forward((seconds + 185) * 1000)
    expect(page.locator("[data-over]:visible")).to_have_text("Over since 3 min")
    assert page.title().startswith("Over since 3 min")
    kept = page.evaluate("Object.entries(localStorage).filter(([key]) => key.startsWith('procedure-run-'))")
    # Called once, and not once more with every look at the clock.
    assert len(kept) == 1 and len(json.loads(kept[0][1])["called"]) == 1


def finish(page: Page, made: Car, axe: Look) -> None:
    # The server's clock did not jump with the phone's: the wait is moved back there by as much.
    move_back(minutes=12)
    press(page)
    at_step(page, 5)
    press(page)
    at_step(page, 6)
    press(page)
    expect(page.get_by_role("alert")).to_contain_text("immobilizer's light")
    page.locator("input[name=immobilizer_light][value=out]:visible").check()
    look(page, axe, "light")
    press(page)
    expect(page.locator("h1")).to_have_text("All steps done")
    press(page, "What came of it")
    expect(page.locator("h1")).to_have_text("What came of it")
    page.get_by_label("Worked", exact=True).check()
    page.get_by_label("Keys learned").fill("2")
    page.get_by_label(re.compile("Keys that started it")).fill("2")
    page.locator("input[name=immobilizer_light][value=out]").check()
    look(page, axe, "end")
    press(page, "End")
    expect(page.locator("main")).to_contain_text("Keys learned: 2, start tried with 2.")
    run = ProcedureRun.objects.get()
    assert (run.outcome, run.variant, run.marks.count()) == ("worked", made.late, 7)


def move_back(minutes: int) -> None:
    from shop.append_only import erasing

    ProcedureRun.objects.update(started_at=timezone.now() - timedelta(hours=1))
    with erasing():
        for mark in StepDone.objects.all():
            mark.at -= timedelta(minutes=minutes)
            mark.save(update_fields=["at"])


def test_low_supply_stops_before_what_cannot_be_interrupted_also_without_signal(
    made: Car, phone: Opener, live: str, axe: Look, eventually: Eventually
) -> None:
    run = made.begin(at=timezone.now() - timedelta(hours=1))
    made.mark(run, WAIT, is_begin=True, at=timezone.now() - timedelta(minutes=11))
    page = phone(made.me)
    page.goto(f"/round/{made.visit.pk}/procedure")
    at_step(page, 1)
    cut(page)
    measure(page, "11,9")
    expect(page.locator("[data-bad]")).to_contain_text("11.9 V, below 12.4 V.")
    measure(page, "0.3")
    press(page)
    press(page)
    at_step(page, 5)
    expect(page.locator(".run-stop:visible")).to_contain_text("Mend that and measure again")
    expect(page.locator("[data-next]")).to_be_disabled()
    look(page, axe, "stopped")
    page.get_by_role("button", name="Measure again").first.click()
    measure(page, "12.7")
    at_step(page, 5)
    press(page)
    expect(page.get_by_role("alert").first).to_contain_text("say why you go on")
    page.get_by_label("Why go on all the same?").fill("Ground strap is cleaned")
    press(page)
    at_step(page, 6)
    page.context.set_offline(False)
    mark = eventually(lambda: StepDone.objects.filter(step__position=5).first(), within=20)
    assert mark.reason == "Ground strap is cleaned"
    expect(page.locator("#signal")).to_be_empty()


def test_an_expired_session_keeps_what_waits_and_asks_to_sign_in(
    made: Car, phone: Opener, live: str, eventually: Eventually
) -> None:
    run = made.begin()
    page = phone(made.me)
    page.goto(f"/round/{made.visit.pk}/procedure/{run.pk}")
    at_step(page, 1)
    cookies = page.context.cookies()
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    measure(page, "12.6")
    expect(page.locator("#signal")).to_contain_text("1 step waiting: you are signed out.")
    expect(page.get_by_role("link", name="Sign in again")).to_be_visible()
    page.context.add_cookies(cookies)  # type: ignore[arg-type]
    mark = eventually(lambda: StepDone.objects.first(), within=20)
    assert mark.measured is not None
    expect(page.locator("#signal")).to_be_empty()


def test_without_scripts_each_step_is_a_plain_form(made: Car, phone: Opener, live: str) -> None:
    page = phone(made.me, scripts=False)
    begin(page, made)
    measure(page, "1260")
    expect(page.get_by_role("alert")).to_contain_text("Is 12.60 V meant?")
    measure(page, "11,9")
    at_step(page, 2)
    page.get_by_role("link", name="Measure again").click()
    at_step(page, 1)
    measure(page, "12,6")
    measure(page, "0.1")
    press(page)
    at_step(page, 4)
    press(page, "Start the wait")
    expect(page.locator("[data-clock]:visible")).to_contain_text("Over at")
    press(page)
    expect(page.get_by_role("alert")).to_contain_text("The wait runs until")
    move_back(minutes=11)
    press(page)
    at_step(page, 5)


CASES = [
    ("12.6", "supply"), ("12,6", "supply"), ("1260", "supply"), ("126 V", "supply"), ("-12", "supply"), ("", "supply"),
    ("3,1", "supply"), ("99999", "supply"), ("1,260", "ohm"), ("39.5", "ohm"), ("52 ohm", "ohm"), ("1e3", "ohm"),
]  # fmt: skip


def test_the_phone_reads_a_measure_as_the_server_does(made: Car, phone: Opener, live: str) -> None:
    from decimal import Decimal

    from jobs.running.measuring import Limits, limits_of, read_measured
    from vehicles.procedure_content import Doubt

    supply = limits_of("V", Decimal("12.4"), None, low_volts=Decimal("12.0"), high_volts=Decimal("14.8"))
    both = {"supply": supply, "ohm": Limits("ohm", Decimal("40"))}
    run = made.begin()
    page = phone(made.me)
    page.goto(f"/round/{made.visit.pk}/procedure/{run.pk}")
    address = page.locator("script[src*='run']").last.get_attribute("src")
    assert address
    for text, name in CASES:
        limits = both[name]
        figures = {key: _number(value) for key, value in _limits(limits).items()}
        heard = page.evaluate(
            """async ([address, text, limits]) => {
              const { readMeasured, fault, isHard } = await import(address);
              const read = readMeasured(text, limits);
              return read.doubt ?? [fault(read.value, limits), isHard(read.value, limits)];
            }""",
            [re.sub(r"run(\.[0-9a-f]+)?\.js", "measure.js", address), text, figures],
        )
        try:
            value = read_measured(text, limits)
            assert heard == [limits.fault(value), limits.is_hard(value)], text
        except Doubt as doubt:
            assert heard == str(doubt), text


def _limits(limits: Any) -> dict[str, Any]:
    return {
        "unit": limits.unit, "low": limits.low, "high": limits.high, "hardLow": limits.hard_low,
        "hardHigh": limits.hard_high, "isSupply": limits.is_supply,
    }  # fmt: skip


def _number(value: Any) -> Any:
    return value if value is None or isinstance(value, bool | str) else float(value)
