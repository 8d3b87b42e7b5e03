"""Issuing: numbers without gaps, the rates of the day, and a paper that PostgreSQL itself keeps as it is."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError, connection, transaction

from billing import actions as billing
from billing.errors import NotYet, TotalMoved
from billing.models import Invoice, InvoiceLine, InvoiceTax, Payment, PaymentPart, TaxRate
from jobs import actions as jobs
from jobs.states import KindOfWork
from shop.actions import change_shop
from shop.customers.actions import change_customer
from shop.models import Counter, Shop
from tests import cast
from tests.billing import make
from tests.billing.worked import VIN, finished, issued, line, vehicle
from tests.threads import at_once

D = Decimal


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make.shop(name="Hollow Lane Locksmiths", licence_number="LIC 04412", tax_number="88-77", payment_terms_days=0)
    make.price_book()


@pytest.mark.django_db
def test_numbers_follow_each_other_within_a_year_and_begin_anew() -> None:
    year_end = make.NOON.replace(year=2026, month=12, day=31, hour=23, minute=30)
    numbers = [
        issued(
            finished(told=[line()], start=make.NOON + timedelta(hours=2 * k)), at=year_end + k * timedelta(minutes=20)
        )
        for k in range(3)
    ]
    assert [each.number for each in numbers] == ["2026-0001", "2026-0002", "2027-0001"]


@pytest.mark.django_db
def test_year_is_that_of_the_shops_zone() -> None:
    make.shop(time_zone="Pacific/Auckland")
    # 31 December 12:00 UTC is 1 January 01:00 in Auckland (UTC+13 in summer, tz database).
    assert issued(at=make.NOON.replace(month=12, day=31)).number == "2027-0001"


@pytest.mark.django_db
def test_refused_issue_uses_up_no_number() -> None:
    invoice = billing.draft_invoice(finished(told=[line()]), actor=None)
    invoice.lines.all().delete()
    with pytest.raises(NotYet, match="nothing on this invoice"):
        billing.issue_invoice(invoice, actor=None)
    assert not Counter.objects.filter(series__startswith="invoice").exists()


@pytest.mark.django_db
def test_rates_are_those_of_the_day_the_work_was_finished_however_late_it_is_issued() -> None:
    """A service is taxed at the rate of when it was done: Council Directive 2006/112/EC, articles 63 and 93."""
    TaxRate.objects.create(tax_class="labour", name="Labour tax", percent=D(10), holds_from=date(2026, 3, 4))
    before = billing.draft_invoice(finished(told=[line("100.00")]), actor=None)
    after = billing.draft_invoice(finished(told=[line("100.00")], start=make.NOON + timedelta(days=1)), actor=None)
    assert (before.total, after.total) == (D("105.00"), D("110.00"))
    late = billing.issue_invoice(before, actor=None, at=make.NOON.replace(month=4, day=1))
    assert (late.tax, late.total) == (D("5.00"), D("105.00"))
    late = billing.issue_invoice(after, actor=None, at=make.NOON.replace(month=4, day=1))
    assert [(tax.name, tax.percent, tax.base) for tax in late.taxes.all()] == [("Labour tax", 10, D("100.00"))]


@pytest.mark.django_db
def test_work_that_ended_without_a_finish_bears_the_rates_of_the_day_of_issue() -> None:
    TaxRate.objects.create(tax_class="labour", name="Labour tax", percent=D(10), holds_from=date(2026, 4, 1))
    job = make.job()
    billing.tell_price(job, actor=None, lines=[line("100.00")], at=make.NOON)
    job = jobs.close_job(job, actor=None, state="called_off", reason="They found the spare key.", at=make.NOON)
    invoice = billing.draft_invoice(job, actor=None)
    assert billing.issue_invoice(invoice, actor=None, at=make.NOON.replace(month=4, day=1)).total == D("110.00")


@pytest.mark.django_db
def test_a_total_that_nobody_saw_is_not_issued() -> None:
    invoice = billing.draft_invoice(finished(told=[line()]), actor=None)
    with pytest.raises(TotalMoved, match=r"It comes to 84\.00.USD now, not 80\.00.USD"):
        billing.issue_invoice(invoice, actor=None, seen=D(80))
    assert not Counter.objects.filter(series__startswith="invoice").exists()
    assert billing.issue_invoice(invoice, actor=None, seen=D(84)).total == D("84.00")


@pytest.mark.django_db
def test_terms_of_the_customer_come_before_those_of_the_shop() -> None:
    make.shop(payment_terms_days=7)
    account = make.customer(name="Fleet", phone="+12015550166", kind="account", terms_days=30)
    first = issued(finished(told=[line()], of=account))
    second = issued(finished(told=[line()], start=make.NOON + timedelta(days=1)))
    assert (first.due_on, second.due_on) == (date(2026, 4, 2), date(2026, 3, 10))


@pytest.mark.django_db
def test_issue_copies_who_and_what_and_later_changes_do_not_reach_it() -> None:
    person, tech = make.customer(), cast.technician(name="Ines Marlow", licence_number="LT-22")
    job = finished(
        tech,
        of=person,
        vehicle=vehicle(person),
        told=[line()],
        street="3 Mill Lane",
        town="Wenbury",
        kind_of_work=KindOfWork.LOCK_OUT,
    )
    draft = billing.draft_invoice(job, actor=None)
    billing.record_payment(draft, actor=None, method="card", amount=D("20.00"))
    invoice = billing.issue_invoice(draft, actor=cast.office(name="Ruth Alder"))
    change_shop(actor=None, name="Sold to somebody else")
    change_customer(person, actor=None, name="Married since")
    parties = Invoice.objects.get(pk=invoice.pk).parties
    assert (parties["shop"]["name"], parties["shop"]["licence_number"]) == ("Hollow Lane Locksmiths", "LIC 04412")
    assert (parties["customer"]["name"], parties["vehicle"]["vin"]) == ("Ada Vermeer", VIN)
    assert (parties["job"]["place"], parties["visits"][0]["technician"]) == ("3 Mill Lane, Wenbury", "Ines Marlow")
    assert (parties["told"]["total"], parties["told"]["accepted_by"]) == ("84.00", "Ada Vermeer")
    assert [(each["amount"], each["method"]) for each in parties["payments"]] == [("20.00", "Card")]
    assert (parties["paid"], parties["issued_by"]) == ("20.00", "Ruth Alder")
    Shop.forget()


@pytest.mark.django_db(transaction=True)
def test_many_issued_at_once_have_numbers_without_gap_or_double() -> None:
    drafts = [
        billing.draft_invoice(finished(told=[line()], start=make.NOON + timedelta(hours=2 * k)), actor=None)
        for k in range(12)
    ]
    issue = [partial(billing.issue_invoice, draft, actor=None, at=make.NOON) for draft in drafts]
    # One of them is asked for twice: the second is refused and uses up no number.
    results = at_once(*issue, issue[0])
    refused = [each for each in results if isinstance(each, Exception)]
    assert [str(each) for each in refused] == [
        f"Invoice {Invoice.objects.get(pk=drafts[0].pk).number} is issued and does not change."
    ]
    assert list(Invoice.objects.order_by("sequence").values_list("sequence", flat=True)) == list(range(1, 13))


CHANGES = {
    "number": lambda invoice: Invoice.objects.filter(pk=invoice.pk).update(sequence=99),
    "total": lambda invoice: Invoice.objects.filter(pk=invoice.pk).update(total=D("500.00")),
    "parties": lambda invoice: Invoice.objects.filter(pk=invoice.pk).update(parties={}),
    "back to draft": lambda invoice: Invoice.objects.filter(pk=invoice.pk).update(
        state="draft", sequence=None, issued_at=None
    ),
    "delete": lambda invoice: Invoice.objects.filter(pk=invoice.pk)._raw_delete("default"),
    "line": lambda invoice: InvoiceLine.objects.filter(invoice=invoice).update(amount=D("1.00")),
    "line away": lambda invoice: InvoiceLine.objects.filter(invoice=invoice).delete(),
    "line more": lambda invoice: InvoiceLine.objects.create(
        invoice=invoice, position=9, kind="other", text="More", unit_price=1, amount=1, tax_class="labour"
    ),
    "tax": lambda invoice: InvoiceTax.objects.filter(invoice=invoice).update(amount=D("0.01")),
    "tax away": lambda invoice: InvoiceTax.objects.filter(invoice=invoice).delete(),
    "payment": lambda invoice: Payment.objects.update(amount=D("1.00")),
    "payment away": lambda invoice: Payment.objects.all()._raw_delete("default"),
    "part": lambda invoice: PaymentPart.objects.update(amount=D("1.00")),
    "part away": lambda invoice: PaymentPart.objects.all().delete(),
}


@pytest.mark.django_db
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_postgres_refuses_to_change_what_is_on_paper(change: Callable[[Invoice], object]) -> None:
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="cash", amount=D("84.00"))
    with pytest.raises(IntegrityError, match="never change"), transaction.atomic():
        change(invoice)


@pytest.mark.django_db
def test_postgres_lets_the_paper_and_what_is_paid_follow() -> None:
    invoice = issued()
    Invoice.objects.filter(pk=invoice.pk).update(paid=D("10.00"), paper="papers/x.pdf", paper_sha256="00")
    billing.record_payment(invoice, actor=None, method="cash", amount=D("10.00"))
    Payment.objects.update(receipt="papers/r.pdf", receipt_sha256="00")


@pytest.mark.django_db
def test_erasing_by_law_is_possible_when_it_is_said() -> None:
    invoice = issued()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL bittern.may_erase = 'yes'")
        invoice.delete()
    assert not Invoice.objects.exists()
