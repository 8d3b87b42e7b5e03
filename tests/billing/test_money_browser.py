"""The money pages in a real browser: readable by everyone, in both themes, and without scripts."""

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from billing import actions as billing
from billing.models import Invoice, Payment
from tests import cast
from tests.billing import make
from tests.billing.worked import finished, issued, line, sold, stocked, van, vehicle

pytestmark = pytest.mark.browser
Opener = Callable[..., Page]
Axe = Callable[[Page], None]
D = Decimal


@pytest.fixture(autouse=True)
def _shop(transactional_db: None) -> None:
    make.shop()
    make.price_book()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_desk_pages_are_readable(office: Opener, axe: Axe, scheme: str) -> None:
    tech = cast.technician(hourly_cost=D("36.00"))
    blank = stocked(van(tech))
    job = finished(tech, told=[line(), sold(blank)], used=[(blank, 2)], spoiled=[(blank, 1)], drive_km="12.0")
    draft = billing.draft_invoice(job, actor=None)
    billing.record_payment(draft, actor=None, method="card", amount=D("20.00"))
    page = office(cast.person("owner", "office"), scheme=scheme)
    paths = ["/invoices?show=to_invoice", f"/invoices/{draft.pk}", f"/invoices/{draft.pk}/issue"]
    paths += ["/margins?month=2026-03", f"/margins/jobs/{job.number}"]
    for path in paths:
        page.goto(path)
        axe(page)
    billing.issue_invoice(draft, actor=None)
    for path in ("/invoices", f"/invoices/{draft.pk}"):
        page.goto(path)
        axe(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_phone_pages_are_readable(phone: Opener, axe: Axe, scheme: str) -> None:
    tech = cast.technician()
    job = finished(tech, told=[line()])
    draft = billing.draft_invoice(job, actor=None)
    page = phone(tech, scheme=scheme)
    for path in (f"/round/{job.visits.get().pk}/handover", f"/invoices/{draft.pk}/issue", f"/invoices/{draft.pk}/pay"):
        page.goto(path)
        axe(page)
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= 390, f"{path} is {width} px wide"
        for step in page.locator(".next-step").all():
            box = step.bounding_box()
            assert box is not None and box["height"] >= 56


def test_paper_appears_by_itself_when_the_worker_has_made_it(office: Opener, worker: None) -> None:
    person = make.customer()
    draft = billing.draft_invoice(finished(told=[line()], of=person, vehicle=vehicle(person)), actor=None)
    page = office(cast.office())
    page.goto(f"/invoices/{draft.pk}")
    page.get_by_role("button", name="Issue invoice").click()
    page.get_by_role("button", name="Issue invoice").click()
    expect(page.get_by_role("heading", name=re.compile(r"Invoice \d{4}-0001"))).to_be_visible()
    link = page.get_by_role("link", name="Open the PDF")
    expect(link).to_be_visible(timeout=20_000)
    answer = page.request.get(str(link.get_attribute("href")))
    assert answer.body().startswith(b"%PDF-")


def test_handover_and_payment_work_without_scripts(phone: Opener) -> None:
    tech = cast.technician()
    job = finished(tech, told=[line()])
    billing.draft_invoice(job, actor=None)
    page = phone(tech, scripts=False)
    page.goto(f"/round/{job.visits.get().pk}/handover")
    page.get_by_label("Keys counted into the customer's hand").fill("2")
    page.get_by_label("Every key and every function was shown to work").check()
    page.get_by_role("button", name="Hand over").click()
    page.get_by_role("link", name="Issue invoice").click()
    page.get_by_role("button", name="Issue invoice").click()
    page.get_by_text("Cash", exact=True).click()
    page.get_by_role("button", name="Take payment").click()
    expect(page.get_by_text("Nothing is left to pay.")).to_be_visible()
    assert Invoice.objects.get().balance == 0
    assert Payment.objects.get().method == "cash"


def test_payment_pressed_twice_is_taken_once(office: Opener) -> None:
    invoice = issued()
    page: Any = office(cast.office())
    page.goto(f"/invoices/{invoice.pk}")
    page.get_by_text("Card", exact=True).click()
    page.get_by_label("Amount").fill("10.00")
    page.get_by_role("button", name="Take payment").dblclick()
    expect(page.get_by_text("10.00 USD taken, receipt 1.")).to_be_visible()
    assert Payment.objects.count() == 1
