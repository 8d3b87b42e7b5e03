"""Keeping and inspection in a real browser: axe on every page, records opened, a customer's file made."""

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from jobs.actions.holds import add_hold
from jobs.actions.inspections import write_request
from tests.cast import owner
from tests.jobs.keeping.rows import done, keyed

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_can_be_read_by_everybody(
    scheme: str, office: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    boss, today = owner(), timezone.localdate()
    job = done(keyed())
    add_hold(job, actor=boss, kind="dispute", reason="Says the lock was scratched")
    asked = write_request(
        actor=boss, authority="The bureau", received_on=today, way="post", since=today, until=today, thing="vehicle"
    )
    page = office(boss, scheme=scheme)
    paths = [
        "/keeping",
        "/keeping/decisions",
        "/keeping/holds/add",
        f"/customers/{job.customer_id}/data",
        "/inspection",
    ]
    span = f"since={today}&until={today}&thing=vehicle&only_keys=on"
    for path in [
        *paths,
        f"/inspection?{span}",
        "/inspection/requests/add",
        f"/inspection/requests/{asked.pk}",
        "/margins",
    ]:
        page.goto(path)
        page.wait_for_load_state("networkidle")
        axe(page)


def test_the_records_are_opened_and_the_file_is_made(office: Callable[..., Any], worker: Any) -> None:
    boss, today = owner(), timezone.localdate()
    job = done(keyed())
    page = office(boss)
    page.goto("/inspection/requests/add")
    page.get_by_label("Who asks").fill("The bureau")
    page.get_by_label("Done from").fill(today.isoformat())
    page.get_by_label("Done until").fill(today.isoformat())
    page.get_by_role("button", name="Start the clock").click()
    page.get_by_role("button", name="Open the records").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as CSV").click()
    assert str(job.number) in saved.value.path().read_text()
    page.goto(f"/customers/{job.customer_id}/data")
    page.get_by_role("button", name="Make the file").click()
    with page.expect_download() as zipped:
        page.get_by_role("link", name="Save the file").click(timeout=20_000)
    assert zipped.value.suggested_filename.endswith(".zip")
