"""One whole job in a real browser: the office takes the call without touching the mouse and books it, the technician
works it from the phone, invoices it and is paid, the paper is made by the worker, the owner sees what it earned."""

import io
import re
from collections.abc import Callable
from datetime import time
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from billing.models import Invoice, Payment
from jobs.models import CallDraft, Job
from jobs.states import JobState
from shop.actions import change_shop
from shop.staff.actions import set_week
from shop.staff.models import Person
from shop.stock import actions as stock
from shop.stock.models import Balance, Item, Place, PlaceKind
from tests import cast
from tests.billing import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Look = Callable[[Page], None]


@pytest.fixture
def team() -> tuple[Person, Person, Person, Item]:
    """An owner, somebody in the office, a technician with a van, and a remote's cell on the van."""
    make.shop(licence_number="LK 77", emergency_number="911", name="Corner Lock Shop")
    change_shop(actor=None, day_starts=time(0, 0), day_ends=time(23, 59))
    make.price_book(after_hours_price=Decimal("0"))
    owner, office = cast.owner(name="Olga Owner"), cast.office(name="Otto Office")
    technician = cast.technician(name="Tina Tech", hourly_cost=Decimal("30.00"))
    set_week(technician, actor=owner, shifts=dict.fromkeys(range(7), (time(0, 0), time(23, 59))))
    van = Place.objects.create(name="Van 1", kind=PlaceKind.VAN, driver=technician)
    item = make.item("C-32", name="Cell for a remote", price=Decimal("6.00"))
    stock.receive(item, actor=owner, place=van, quantity=5, unit_cost=Decimal("0.70"))
    return owner, office, technician, item


def test_a_call_becomes_a_paid_invoice_and_the_owner_sees_what_it_earned(
    team: tuple[Person, Person, Person, Item],
    office: Callable[..., Page],
    phone: Callable[..., Page],
    worker: object,
    axe: Look,
    eventually: Callable[..., object],
) -> None:
    owner, desk, technician, item = team
    desk_page = office(desk)
    job = take_call_by_keyboard(desk_page, axe)
    book_by_keyboard(desk_page, job)
    phone_page = phone(technician, scheme="dark")
    work_from_the_phone(phone_page, job, axe)
    invoice = eventually(lambda: Invoice.objects.filter(job=job).exclude(paper="").first(), within=20)
    assert isinstance(invoice, Invoice)
    check_the_money(job, invoice, item)
    check_the_paper(desk_page, invoice)
    see_what_it_earned(office(owner), job, axe)


def take_call_by_keyboard(page: Page, axe: Look) -> Job:
    """Types the whole call; the only keys are letters, Tab, Enter and Ctrl+Enter."""
    page.goto("/calls/new")
    axe(page)
    keys = page.keyboard
    keys.type("201 555 0147")
    page.get_by_text("Nobody is known by this yet").wait_for()
    fields = [
        ("#id_name", "Wilma Quarrel"),
        ("#id_street", "8 Mill Lane"),
        ("#id_town", "Eastwick"),
        ("#id_access_notes", "Level 3, bay 12"),
        ("#id_plate", "KLM 204"),
        ("#id_make", "Aldren"),
        ("#id_model", "Wren"),
        ("#id_year", "2016"),
        ("#id_vin", "1M8GDM9AXKP042788"),
        ("#id_kind_of_work_0", "1"),
        ("#id_description", "Keys on the seat"),
    ]
    for selector, words in fields:
        tab_to(page, selector)
        keys.type(words)
    expect(page.locator("input[name=kind_of_work][value=lock_out]")).to_be_checked()
    # Call-out 45.00 and labour 80.00, both with 5 % labour tax.
    expect(page.locator("#price-total")).to_contain_text("131.25")
    tab_to(page, "#id_is_accepted")
    keys.press("Space")
    keys.press("Control+Enter")
    page.wait_for_url(re.compile(r"/day"))
    job: Job = Job.objects.get()
    assert (job.state, job.caller_phone, job.customer.name) == (JobState.WAITING, "+12015550147", "Wilma Quarrel")
    assert job.vehicle and job.vehicle.vin == "1M8GDM9AXKP042788"
    assert not CallDraft.objects.exists()
    return job


def tab_to(page: Page, selector: str, most: int = 60) -> None:
    """Presses Tab until the field has the focus; fails when the keyboard cannot reach it."""
    for _ in range(most):
        if page.evaluate("s => document.activeElement === document.querySelector(s)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} is not reached with Tab")


def book_by_keyboard(page: Page, job: Job) -> None:
    page.locator(f"[data-job='{job.number}']").first.focus()
    page.keyboard.press("b")
    page.keyboard.press("Enter")
    page.locator(f"a.visit-booked:has-text('{job.number}'):not(.visit-moving)").first.wait_for()
    job.refresh_from_db()
    assert job.state == JobState.BOOKED


def work_from_the_phone(page: Page, job: Job, axe: Look) -> None:
    visit = job.visits.get()
    page.goto("/round")
    axe(page)
    page.goto(f"/round/{visit.pk}")
    axe(page)
    page.get_by_role("button", name="Set off").click()
    page.get_by_role("button", name="Arrive").click()
    page.get_by_role("link", name="Finish").wait_for()
    visit.refresh_from_db()
    assert visit.set_off_at and visit.arrived_at
    use_one_cell(page)
    page.goto(f"/round/{visit.pk}/finish")
    axe(page)
    page.fill("[name=words]", "Opened with the air wedge, no damage.")
    page.get_by_role("button", name="Finish").click()
    page.wait_for_url(re.compile(r"handover"))
    axe(page)
    hand_over(page)


def use_one_cell(page: Page) -> None:
    page.get_by_role("link", name=re.compile("part", re.IGNORECASE)).first.click()
    page.wait_for_url(re.compile("parts"))
    page.get_by_label("Find by two letters").fill("ce")
    page.locator("#found").get_by_role("button", name=re.compile("Use")).first.click()
    page.get_by_text("On this job").wait_for()


def hand_over(page: Page) -> None:
    page.fill("[name=keys]", "0")
    page.get_by_label(re.compile("shown to work", re.IGNORECASE)).check()
    page.get_by_role("button", name=re.compile("Hand over")).click()
    page.get_by_role("link", name="Issue invoice").click()
    page.get_by_role("button", name="Issue invoice").click()
    page.get_by_text("Cash").click()
    page.locator(".bottom-bar").get_by_role("button", name="Take payment").click()
    page.get_by_text("Nothing is left to pay").wait_for()


def check_the_money(job: Job, invoice: Invoice, item: Item) -> None:
    job.refresh_from_db()
    assert job.state == JobState.FINISHED
    assert invoice.number == f"{timezone.localdate().year}-0001"
    assert invoice.balance == 0
    assert Payment.objects.get().amount == invoice.total
    assert Balance.objects.get(item=item).quantity == 4


def check_the_paper(page: Page, invoice: Invoice) -> None:
    answer = page.request.get(f"/invoices/{invoice.pk}/paper")
    assert answer.headers["content-type"] == "application/pdf"
    words = " ".join(each.extract_text() for each in PdfReader(io.BytesIO(answer.body())).pages)
    for told in (
        "Corner Lock Shop",
        "LK 77",
        "Wilma Quarrel",
        invoice.number,
        "Price told",
        "Price charged",
        "8 Mill Lane",
    ):
        assert told in words
    assert "1M8GDM9AXKP042788" in words.replace(" ", "")


def see_what_it_earned(page: Page, job: Job, axe: Look) -> None:
    page.goto("/margins")
    axe(page)
    page.goto(f"/margins/jobs/{job.number}")
    axe(page)
    expect(page.get_by_text("Blanks and parts").first).to_be_visible()
    expect(page.get_by_text("0.70").first).to_be_visible()
