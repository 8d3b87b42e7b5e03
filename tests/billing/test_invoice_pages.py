"""The office's pages of invoices: list, draft, the question before issuing, payment, papers handed out."""

import re
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from billing import actions as billing
from billing.models import Invoice, Payment, TaxRate
from shop.models import Shop
from tests.billing import make
from tests.billing.worked import finished, issued, line, vehicle
from tests.cast import office, once_key, owner, signed_in, technician

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def _shop(tmp_path: Path, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    make.shop()
    make.price_book()


@pytest.fixture
def desk() -> Client:
    return signed_in(office())


@pytest.fixture
def draft() -> Invoice:
    return billing.draft_invoice(finished(told=[line()]), actor=None)


def words(answer: Any) -> str:
    """The text of a page."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


def fields(invoice: Invoice, *changes: dict[str, str]) -> dict[str, str]:
    """The draft's form as the page sends it, its lines changed in order, more lines at the end."""
    rows = [
        {
            "line": str(each.pk),
            "kind": each.kind,
            "text": each.text,
            "quantity": str(each.quantity),
            "unit_price": str(each.unit_price),
            "tax_class": each.tax_class,
        }
        for each in invoice.lines.all()
    ]
    for number, change in enumerate(changes):
        if number < len(rows):
            rows[number] |= change
        else:
            rows.append({"kind": "other", "quantity": "", "tax_class": "labour", **change})
    sent = {"line-TOTAL_FORMS": str(len(rows)), "line-INITIAL_FORMS": str(invoice.lines.count())}
    return sent | {f"line-{n}-{name}": value for n, row in enumerate(rows) for name, value in row.items()}


def test_list_shows_what_is_to_be_done_under_its_tab(desk: Client) -> None:
    waiting, drafted = finished(told=[line()]), finished(told=[line()], start=make.NOON + timedelta(hours=2))
    billing.draft_invoice(drafted, actor=None)
    unpaid = issued(finished(told=[line()], start=make.NOON + timedelta(hours=4)))
    paid = issued(finished(told=[line("10.00")], start=make.NOON + timedelta(hours=6)))
    billing.record_payment(paid, actor=None, method="cash", amount=paid.total)
    assert f"{waiting.number}" in words(desk.get("/invoices?show=to_invoice"))
    assert "Look over" in words(desk.get("/invoices?show=to_invoice"))
    assert "Together, 1 84.00 USD 84.00 USD" in words(desk.get("/invoices?show=drafts"))
    for tab in ("unpaid", "overdue"):
        page = words(desk.get(f"/invoices?show={tab}"))
        assert unpaid.number in page and paid.number not in page
    assert "Together, 1 10.50 USD 0.00 USD" in words(desk.get("/invoices?show=paid"))


@pytest.mark.parametrize("text", ["2026-0001", "ada verm", "KLM 2", "PO-77", "job"])
def test_list_finds_by_number_customer_plate_order_and_job(desk: Client, text: str) -> None:
    person = make.customer()
    job = finished(told=[line()], of=person, vehicle=vehicle(person), purchase_order="PO-77 Fleet")
    other = issued(
        finished(told=[line()], of=make.customer("Zoe Quill"), start=make.NOON + timedelta(hours=2)),
        at=make.NOON.replace(year=2027),
    )
    issued(job)
    found = words(desk.get("/invoices", {"q": str(job.number) if text == "job" else text}))
    assert "2026-0001" in found
    assert (other.number not in found) or text == "job"


def test_list_asks_the_database_as_often_for_three_rows_as_for_one(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    counted = 0
    for tab in ("unpaid", "to_invoice"):
        for rows in (1, 3):
            while Invoice.objects.issued().count() < rows:
                issued(finished(told=[line()], start=make.NOON + timedelta(hours=3 * (counted := counted + 1))))
                billing.draft_invoice(
                    finished(told=[line()], start=make.NOON + timedelta(days=9, hours=3 * counted)), actor=None
                )
            Shop.current()
            # Session, person, two counts of the tabs, and the rows with their sums or their count.
            with django_assert_num_queries(7 if tab == "unpaid" else 6):
                assert desk.get(f"/invoices?show={tab}").status_code == 200


def test_draft_is_changed_by_its_form(desk: Client, draft: Invoice) -> None:
    change = fields(draft, {"text": "Opening the van", "unit_price": "90,50"}, {"text": "Waiting", "unit_price": "10"})
    answer = desk.post(f"/invoices/{draft.pk}", {**change, "note": "Thank you", "form_key": once_key()})
    assert answer["Location"] == f"/invoices/{draft.pk}"
    draft.refresh_from_db()
    assert [(each.text, each.amount) for each in draft.lines.all()] == [
        ("Opening the van", D("90.50")),
        ("Waiting", D("10.00")),
    ]
    assert (draft.net, draft.note) == (D("100.50"), "Thank you")


def test_discount_typed_without_sign_takes_money_off(desk: Client, draft: Invoice) -> None:
    off = {"kind": "discount", "text": "Good will", "unit_price": "10.00"}
    desk.post(f"/invoices/{draft.pk}", fields(draft, {}, off))
    assert Invoice.objects.get().net == D("70.00")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unit_price": "ten"}, "is not an amount"),
        ({"unit_price": "-5.00"}, "Only a discount takes money off"),
        ({"unit_price": ""}, "Give the price"),
        ({"text": ""}, "Say what this is for"),
        ({"quantity": "many"}, "is not a number"),
        ({"quantity": "-2"}, "must be more than nothing"),
        ({"remove": "on"}, "at least one line"),
        ({"line": "999999"}, "changed since you opened it"),
    ],
)
def test_bad_line_is_told_and_nothing_changes(desk: Client, draft: Invoice, change: dict[str, str], said: str) -> None:
    answer = desk.post(f"/invoices/{draft.pk}", fields(draft, change))
    assert answer.status_code == 422
    assert said in words(answer)
    assert Invoice.objects.get().net == D("80.00")


def test_draft_sent_twice_is_changed_once(desk: Client, draft: Invoice) -> None:
    form = {**fields(draft, {"unit_price": "90.00"}), "form_key": once_key()}
    assert [desk.post(f"/invoices/{draft.pk}", form).status_code for _ in range(2)] == [302, 302]
    assert draft.lines.count() == 1


def test_issue_button_of_the_draft_keeps_the_lines_first(desk: Client, draft: Invoice) -> None:
    form = {**fields(draft, {"unit_price": "90.00"}), "issue": "yes"}
    assert desk.post(f"/invoices/{draft.pk}", form)["Location"] == f"/invoices/{draft.pk}/issue"
    assert "Issue this invoice for 94.50 USD" in words(desk.get(f"/invoices/{draft.pk}/issue"))


def test_issuing_asks_once_then_gives_the_number(desk: Client, draft: Invoice) -> None:
    asked = words(desk.get(f"/invoices/{draft.pk}/issue"))
    assert "Issue this invoice for 84.00 USD to Ada Vermeer?" in asked
    assert "cannot be changed after" in asked
    assert Invoice.objects.get().number == ""
    form = {"form_key": once_key(), "seen": "84"}
    for _ in range(2):
        assert desk.post(f"/invoices/{draft.pk}/issue", form)["Location"] == f"/invoices/{draft.pk}"
    assert [each.sequence for each in Invoice.objects.all()] == [1]
    page = words(desk.get(f"/invoices/{draft.pk}"))
    assert f"Invoice {Invoice.objects.get().number}" in page
    assert "PDF being made" in page


def test_issue_shows_the_figures_of_now_and_issues_only_what_was_seen(desk: Client, draft: Invoice) -> None:
    """A rate that was entered after the draft was drawn up, and lines changed while the page was open."""
    path = f"/invoices/{draft.pk}/issue"
    TaxRate.objects.create(tax_class="labour", name="Labour tax", percent=D(10), holds_from=date(2026, 3, 1))
    asked = desk.get(path)
    assert "Issue this invoice for 88.00 USD" in words(asked)
    assert "Labour tax 10 % of 80.00 8.00 USD" in words(asked)
    assert Invoice.objects.get().total == D("84.00"), "looking changes nothing"
    for seen in ("84", "", "NaN"):
        answer = desk.post(path, {"seen": seen})
        assert (answer.status_code, "Nothing was issued" in words(answer)) == (409, True)
        assert "Issue this invoice for 88.00 USD" in words(answer)
    assert b'name="seen" value="88"' in asked.content
    desk.post(f"/invoices/{draft.pk}", fields(draft, {"unit_price": "90.00"}))
    answer = desk.post(path, {"seen": "88"})
    assert (answer.status_code, "It comes to 99.00 USD now, not 88.00 USD" in words(answer)) == (409, True)
    assert Invoice.objects.get().number == ""
    assert desk.post(path, {"seen": "99"})["Location"] == f"/invoices/{draft.pk}"
    assert Invoice.objects.get().total == D("99.00")


def test_issued_invoice_refuses_a_form_of_its_draft(desk: Client, draft: Invoice) -> None:
    form = fields(draft, {"unit_price": "1.00"})
    billing.issue_invoice(draft, actor=None)
    assert desk.post(f"/invoices/{draft.pk}", form).status_code == 302
    assert Invoice.objects.get().net == D("80.00")


def test_payment_sent_twice_is_taken_once(desk: Client) -> None:
    invoice = issued()
    form = {"method": "card", "amount": "50.00", "reference": "slip 4", "form_key": once_key()}
    for _ in range(2):
        assert desk.post(f"/invoices/{invoice.pk}/pay", form)["Location"] == f"/invoices/{invoice.pk}"
    assert Payment.objects.count() == 1
    assert "34.00 USD" in words(desk.get(f"/invoices/{invoice.pk}"))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"amount": "84.01"}, "The balance is 84.00 USD"),
        ({"amount": "0"}, "more than nothing"),
        ({"amount": "-1"}, "must not be below nothing"),
        ({"amount": "1.2345"}, "too fine"),
        ({"method": ""}, "Say how it was paid"),
    ],
)
def test_wrong_payment_is_told_beside_its_field(desk: Client, typed: dict[str, str], said: str) -> None:
    invoice = issued()
    answer = desk.post(f"/invoices/{invoice.pk}/pay", {"method": "cash", "amount": "10.00", **typed})
    assert answer.status_code == 422
    assert said in words(answer)
    assert not Payment.objects.exists()


def test_paper_waits_visibly_until_it_is_there(desk: Client) -> None:
    invoice = issued()
    waiting = desk.get(f"/invoices/{invoice.pk}/paper")
    assert waiting.status_code == 202
    assert 'hx-trigger="every 2s"' in waiting.content.decode()
    billing.make_paper(invoice.pk)
    assert "hx-trigger" not in desk.get(f"/invoices/{invoice.pk}/paper/state").content.decode()
    paper = desk.get(f"/invoices/{invoice.pk}/paper")
    assert paper["Content-Type"] == "application/pdf"
    assert paper["Content-Disposition"] == 'inline; filename="Invoice 2026-0001.pdf"'
    assert paper.content.startswith(b"%PDF-")


def test_papers_go_to_office_owner_and_the_technician_of_the_job() -> None:
    mine, other = technician(), technician()
    invoice = issued(finished(mine, told=[line()]))
    payment = billing.record_payment(invoice, actor=None, method="cash", amount=D("84.00"))
    billing.make_paper(invoice.pk)
    billing.make_receipt(payment.pk)
    for path in (f"/invoices/{invoice.pk}/paper", f"/payments/{payment.pk}/receipt"):
        seen = {who: signed_in(who).get(path).status_code for who in (office(), owner(), mine, other)}
        assert list(seen.values()) == [200, 200, 200, 404]
        assert Client().get(path)["Location"].startswith("/sign-in")


def test_technician_does_not_reach_the_office_pages() -> None:
    mine = technician()
    invoice = issued(finished(mine, told=[line()]))
    phone = signed_in(mine)
    for path in ("/invoices", f"/invoices/{invoice.pk}", f"/jobs/{invoice.job_id}/money", "/margins"):
        assert phone.get(path).status_code == 403, path


def test_panels_show_balance_and_money(desk: Client) -> None:
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="cash", amount=D("4.00"))
    assert invoice.job is not None
    panel = words(desk.get(f"/jobs/{invoice.job.number}/money", headers={"HX-Request": "true"}))
    assert "Left to pay 80.00 USD" in panel and "Left for us" not in panel
    assert "Left for us" in words(signed_in(owner()).get(f"/jobs/{invoice.job.number}/money"))
    assert "Owes 80.00 USD 1 unpaid invoice" in words(desk.get(f"/customers/{invoice.customer_id}/money"))


def test_missing_invoice_is_not_found(desk: Client) -> None:
    for path in ("/invoices/99", "/invoices/99/issue", "/invoices/99/pay", "/invoices/99/paper", "/payments/9/receipt"):
        assert desk.get(path).status_code == 404, path
