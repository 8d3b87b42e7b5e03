"""Two screens and a phone on one day: what one changes the others show, without a touch."""

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from datetime import time as clock_time
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.actions import book_visit, set_off
from jobs.models import Visit
from tests import cast
from tests.jobs.desk import call, on_shift, shop
from tests.jobs.round_rows import visit_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Opener = Callable[..., Page]
# A second is promised; a test machine is busy and a browser slow to look, so the test allows three.
SOON_MS = 3000


def open_live(page: Page, path: str) -> Page:
    """The page once its stream has said that it is there."""
    with page.expect_response(lambda answer: answer.url.endswith("/live")):
        page.goto(path)
    page.wait_for_timeout(600)
    return page


def test_what_the_phone_does_shows_on_every_desk_and_a_half_typed_field_stays(office: Opener) -> None:
    shop()
    technician = on_shift(name="Ines Moor")
    visit = visit_of(technician, hours=0.5)
    first = open_live(office(cast.office(name="Nell")), f"/day?job={visit.job.number}")
    second = open_live(office(cast.office(name="Omar")), "/day")
    first.locator("#chosen summary", has_text="Note").click()
    typed = first.locator("#note-words")
    typed.fill("Half typed")
    started = time.monotonic()
    set_off(visit, actor=technician)
    for page in (first, second):
        expect(page.locator("a.visit-on_the_way")).to_be_visible(timeout=SOON_MS)
    assert time.monotonic() - started < 2 * SOON_MS / 1000
    assert typed.input_value() == "Half typed"
    assert first.evaluate("document.activeElement.value") == "Half typed"


def test_a_visit_booked_at_the_desk_shows_on_the_round(phone: Opener) -> None:
    shop()
    technician = on_shift(name="Ines Moor")
    page = open_live(phone(technician), "/round")
    start = datetime.combine(timezone.localdate(), clock_time(12), UTC)
    visit = book_visit(call(), actor=None, technician=technician, start=start, end=start + timedelta(hours=1))
    assert Visit.objects.filter(pk=visit.pk).exists()
    expect(page.locator(".stops a.stop")).to_have_count(1, timeout=SOON_MS)


def test_a_lost_connection_is_said_and_mends_itself(office: Opener, windows: Any) -> None:
    shop()
    page = open_live(office(cast.office()), "/day")
    expect(page.locator("#live-line")).to_be_hidden()
    page.route("**/live", lambda route: route.fulfill(status=503, body=""))
    page.evaluate("window.dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))")
    expect(page.locator("#live-line")).to_be_visible(timeout=SOON_MS)
    page.unroute("**/live")
    expect(page.locator("#live-line")).to_be_hidden(timeout=8000)
    # The browser reports the answer that this test made up; nothing else went wrong.
    assert all(error.endswith("503 (Service Unavailable)") for error in windows.errors)
    windows.errors.clear()
