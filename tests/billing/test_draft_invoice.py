"""Drawing up an invoice: which lines, which parts, and what a comeback costs."""

from dataclasses import replace
from decimal import Decimal

import pytest

from billing import actions as billing
from billing.errors import AlreadyIssued, NotYet
from billing.lines import BillLine, line_of
from billing.models import Invoice
from billing.pricing import PriceLine, PricingError
from jobs import actions as jobs
from jobs.models import PartUse
from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item, Place
from tests import cast
from tests.billing import make
from tests.billing.worked import finished, issued, line, sold, stocked, van, visit_on_site

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def _shop() -> None:
    make.shop()
    make.price_book()


@pytest.fixture
def tech() -> Person:
    return cast.technician()


@pytest.fixture
def place(tech: Person) -> Place:
    return van(tech)


@pytest.fixture
def blank(place: Place) -> Item:
    return stocked(place)


def charged(invoice: Invoice) -> list[tuple[str, Decimal, Decimal]]:
    """Text, quantity and amount of every line."""
    return [(each.text, each.quantity, each.amount) for each in invoice.lines.all()]


def test_draft_takes_the_lines_of_the_price_accepted() -> None:
    job = finished(told=[line("80.00"), line("25.00", "Programming", kind="programming")])
    billing.tell_price(job, actor=None, lines=[line("500.00")])
    invoice = billing.draft_invoice(job, actor=None)
    assert charged(invoice) == [("Opening the car", 1, D("80.00")), ("Programming", 1, D("25.00"))]
    # 105.00 and 5 % labour tax of the price book in make.py.
    assert (invoice.net, invoice.tax, invoice.total) == (D("105.00"), D("5.25"), D("110.25"))
    assert invoice.price_told == D("110.25")


def test_draft_without_a_price_accepted_takes_the_last_told() -> None:
    job = finished(told=[line("80.00")], accepted_by="")
    billing.tell_price(job, actor=None, lines=[line("95.00")])
    assert charged(billing.draft_invoice(job, actor=None)) == [("Opening the car", 1, D("95.00"))]


def test_draft_without_any_price_takes_the_price_book() -> None:
    invoice = billing.draft_invoice(finished(), actor=None)
    assert charged(invoice) == [("Call-out", 1, D("45.00")), ("Lock-out", 1, D("80.00"))]
    assert invoice.price_told is None


def test_parts_that_the_price_told_covers_are_not_charged_again(tech: Person, blank: Item) -> None:
    job = finished(tech, told=[line(), sold(blank, 2)], used=[(blank, 1), (blank, 1)])
    assert charged(billing.draft_invoice(job, actor=None)) == [
        ("Opening the car", 1, D("80.00")),
        (blank.name, 2, D("84.00")),
    ]


def test_parts_beyond_the_price_told_are_charged_at_their_price(tech: Person, blank: Item, place: Place) -> None:
    cell = stocked(place, number="C-1", name="Cell", price=D("4.50"))
    job = finished(tech, told=[line(), sold(blank)], used=[(blank, 3), (cell, 2)])
    assert charged(billing.draft_invoice(job, actor=None))[2:] == [(blank.name, 2, D("84.00")), ("Cell", 2, D("9.00"))]


def test_parts_told_but_not_used_stay_because_the_price_told_holds(blank: Item) -> None:
    job = finished(told=[line(), sold(blank)])
    assert billing.draft_invoice(job, actor=None).net == D("122.00")


def test_parts_of_another_item_are_not_covered(tech: Person, blank: Item, place: Place) -> None:
    other = stocked(place, number="TB-200", name="Another blank", price=D("50.00"))
    job = finished(tech, told=[sold(blank)], used=[(other, 1)])
    assert charged(billing.draft_invoice(job, actor=None)) == [
        (blank.name, 1, D("42.00")),
        ("Another blank", 1, D("50.00")),
    ]


def test_spoiled_free_and_returned_parts_are_not_charged(tech: Person, blank: Item, place: Place) -> None:
    job = finished(tech, told=[line()], used=[(blank, 1)], spoiled=[(blank, 2)])
    jobs.use_part(job, actor=tech, item=blank, quantity=1, place=place, is_charged=False)
    jobs.take_back_part(PartUse.objects.get(job=job, quantity=1, movement__kind="used", is_charged=True), actor=tech)
    assert charged(billing.draft_invoice(job, actor=None)) == [("Opening the car", 1, D("80.00"))]


def test_draft_again_changes_nothing(tech: Person, blank: Item) -> None:
    job = finished(tech, told=[line()], used=[(blank, 1)])
    first = billing.draft_invoice(job, actor=None)
    again = billing.draft_invoice(job, actor=None)
    assert (first.pk, charged(first)) == (again.pk, charged(again))
    assert Invoice.objects.count() == 1


def test_draft_again_keeps_changes_by_hand_and_follows_the_parts(tech: Person, blank: Item, place: Place) -> None:
    job = finished(tech, told=[line()], used=[(blank, 1)])
    invoice = billing.draft_invoice(job, actor=None)
    lines = [line_of(each) for each in invoice.lines.select_related("item", "part")]
    by_hand = BillLine(PriceLine("labour", "Waiting", D("0.5"), D("60.00"), "labour"))
    billing.change_draft(invoice, actor=None, lines=[*lines, by_hand])
    jobs.take_back_part(PartUse.objects.get(job=job), actor=tech)
    jobs.use_part(job, actor=tech, item=blank, quantity=2, place=place)
    assert charged(billing.draft_invoice(job, actor=None)) == [
        ("Opening the car", 1, D("80.00")),
        ("Waiting", D("0.50"), D("30.00")),
        (blank.name, 2, D("84.00")),
    ]


def test_draft_of_an_open_job_is_refused(tech: Person) -> None:
    job = make.job()
    visit_on_site(job, tech)
    with pytest.raises(NotYet, match="still on site"):
        billing.draft_invoice(job, actor=None)


def test_comeback_is_drafted_at_nothing_with_the_work_shown(tech: Person, blank: Item) -> None:
    first = finished(told=[line()])
    again = finished(tech, of=first.customer, comeback_of=first, used=[(blank, 1)])
    invoice = billing.draft_invoice(again, actor=None)
    assert (invoice.net, invoice.tax, invoice.total) == (0, 0, 0)
    words = f"Comeback of job {first.number}, not charged"
    # Labour and parts bear different taxes, so each class is taken off by a line of its own.
    assert [text for text, _, _ in charged(invoice)] == ["Call-out", "Lock-out", blank.name, words, words]
    assert [amount for _, _, amount in charged(invoice)][3:] == [D("-125.00"), D("-42.00")]
    assert billing.issue_invoice(invoice, actor=None).balance == 0


def test_part_used_on_a_comeback_after_its_draft_is_not_charged_either(tech: Person, place: Place, blank: Item) -> None:
    first = finished(told=[line()])
    again = finished(tech, of=first.customer, comeback_of=first)
    billing.draft_invoice(again, actor=None)
    jobs.use_part(again, actor=None, item=blank, quantity=2, place=place)
    invoice = billing.draft_invoice(again, actor=None)
    assert invoice.total == 0
    assert (blank.name, D(2), D("84.00")) in charged(invoice)


def test_comeback_with_a_price_accepted_for_it_is_charged() -> None:
    first = finished(told=[line()])
    again = finished(of=first.customer, comeback_of=first, told=[line("30.00")])
    assert billing.draft_invoice(again, actor=None).net == D("30.00")


def test_discount_beyond_the_lines_is_refused() -> None:
    invoice = billing.draft_invoice(finished(told=[line()]), actor=None)
    too_much = BillLine(PriceLine("discount", "Good will", D(1), D("-80.01"), "labour"))
    with pytest.raises(PricingError, match="more than the lines"):
        billing.change_draft(invoice, actor=None, lines=[*map(line_of, invoice.lines.all()), too_much])
    with pytest.raises(Refused, match="at least one line"):
        billing.change_draft(invoice, actor=None, lines=[])
    assert Invoice.objects.get().net == D("80.00")


def test_draft_cannot_fall_below_what_is_paid() -> None:
    invoice = billing.draft_invoice(finished(told=[line()]), actor=None)
    billing.record_payment(invoice, actor=None, method="cash", amount=D("60.00"))
    cheaper = BillLine(PriceLine("labour", "Opening the car", D(1), D("50.00"), "labour"))
    with pytest.raises(Refused, match=r"60.00 USD is paid already; the total cannot be 52.50 USD"):
        billing.change_draft(invoice, actor=None, lines=[cheaper])


def test_draft_shows_a_price_that_was_told_and_accepted_after_it() -> None:
    job = finished(told=[line()])
    invoice = billing.draft_invoice(job, actor=None)
    dearer = billing.tell_price(job, actor=None, lines=[line("100.00")])
    invoice.refresh_from_db()
    # Not accepted yet, so the one accepted before still stands: 80.00 and 5 % tax.
    assert invoice.price_told == D("84.00")
    billing.accept_price(dearer, actor=None, accepted_by="Ada Vermeer")
    assert billing.issue_invoice(invoice, actor=None).price_told == D("105.00")


def test_redraft_starts_again_from_the_price_told() -> None:
    invoice = billing.draft_invoice(finished(told=[line()]), actor=None)
    billing.change_draft(invoice, actor=None, lines=[BillLine(PriceLine("other", "Other", D(1), D("1.00"), "labour"))])
    assert charged(billing.redraft_invoice(invoice, actor=None)) == [("Opening the car", 1, D("80.00"))]


def test_issued_invoice_is_neither_changed_nor_drawn_up_again() -> None:
    invoice = issued()
    assert invoice.job is not None
    assert billing.draft_invoice(invoice.job, actor=None) == invoice
    for change in (
        lambda: billing.change_draft(invoice, actor=None, lines=[BillLine(line())]),
        lambda: billing.redraft_invoice(invoice, actor=None),
        lambda: billing.issue_invoice(invoice, actor=None),
    ):
        with pytest.raises(AlreadyIssued, match="does not change"):
            change()


def test_part_whose_quantity_was_lowered_by_hand_stays_so(tech: Person, place: Place, blank: Item) -> None:
    job = finished(tech, told=[line()], used=[(blank, 2)], place=place)
    invoice = billing.draft_invoice(job, actor=None)
    kept = [line_of(each) for each in invoice.lines.select_related("item", "part")]
    one = [replace(each, price=replace(each.price, quantity=D(1))) if each.part else each for each in kept]
    billing.change_draft(invoice, actor=None, lines=one)
    again = billing.draft_invoice(job, actor=None)
    assert [quantity for text, quantity, _ in charged(again) if text == blank.name] == [D(1)]
