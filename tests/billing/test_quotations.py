"""Prices told and accepted."""

from decimal import Decimal

import pytest

from billing import actions as billing
from billing.errors import NothingToTell, PriceSettled
from billing.models import Quotation, TaxRate
from billing.prices import BookLine, lines_of
from jobs import actions as jobs
from jobs.models import Job
from jobs.states import JobState
from shop.staff.models import Person
from tests import cast
from tests.billing import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Person:
    return cast.office()


@pytest.fixture
def job() -> Job:
    make.shop()
    make.price_book()
    return make.job()


def line(price: str = "80.00", **facts: object) -> BookLine:
    usual = {"kind": "labour", "text": "Lock-out", "quantity": Decimal(1), "tax_class": "labour"}
    return BookLine(**{**usual, "unit_price": Decimal(price), **facts})  # type: ignore[arg-type]


def test_tell_price_keeps_lines_sums_and_who_said_yes(job: Job, office: Person) -> None:
    blank = make.item()
    sold = line("42.00", kind="item", text="Blank", tax_class="parts", item_id=blank.pk, quantity=Decimal(2))
    told = billing.tell_price(job, actor=office, lines=[line(), sold], accepted_by="Ada Vermeer", at=make.NOON)
    # 80.00 + 84.00; 5 % of 80.00 is 4.00, 8.25 % of 84.00 is 6.93.
    assert (told.net, told.tax, told.total) == (Decimal("164.00"), Decimal("10.93"), Decimal("174.93"))
    assert (told.accepted_by, told.accepted_at, told.told_by) == ("Ada Vermeer", make.NOON, office)
    rows = list(told.lines.all())
    assert [(row.position, row.text, row.item_id) for row in rows] == [(1, "Lock-out", None), (2, "Blank", blank.pk)]


def test_tell_price_again_keeps_the_old_one(job: Job, office: Person) -> None:
    first = billing.tell_price(job, actor=office, lines=[line()], accepted_by="Ada")
    second = billing.tell_price(job, actor=office, lines=[line("95.00")])
    assert list(Quotation.objects.filter(job=job).newest_first()) == [second, first]
    assert Quotation.objects.standing_of(job) == first, "the accepted price holds until the new one is accepted"
    billing.accept_price(second, actor=office, accepted_by="Ada")
    assert Quotation.objects.standing_of(job) == second


def test_price_told_stays_when_the_price_book_and_the_tax_change(job: Job, office: Person) -> None:
    told = billing.tell_price(job, actor=office, lines=[line()])
    TaxRate.objects.update(percent=Decimal(20))
    told.refresh_from_db()
    assert told.total == Decimal("84.00")
    assert lines_of(told)[0].unit_price == Decimal("80.00")


def test_tell_price_without_lines_is_refused(job: Job, office: Person) -> None:
    with pytest.raises(NothingToTell, match="at least one line"):
        billing.tell_price(job, actor=office, lines=[])


def test_tell_price_below_nothing_is_refused(job: Job, office: Person) -> None:
    off = line("-100.00", kind="discount", text="Discount")
    with pytest.raises(NothingToTell, match="not below nothing"):
        billing.tell_price(job, actor=office, lines=[line(), off])
    assert not Quotation.objects.exists()


def test_tell_price_on_a_job_called_off_is_refused(job: Job, office: Person) -> None:
    jobs.close_job(job, actor=office, state=JobState.CALLED_OFF, reason="Found the key")
    with pytest.raises(PriceSettled, match="Reopen it first"):
        billing.tell_price(job, actor=office, lines=[line()])


def test_accept_price_twice_or_without_a_name_is_refused(job: Job, office: Person) -> None:
    told = billing.tell_price(job, actor=office, lines=[line()])
    with pytest.raises(NothingToTell):
        billing.accept_price(told, actor=office, accepted_by=" ")
    billing.accept_price(told, actor=office, accepted_by="Ada")
    with pytest.raises(PriceSettled, match="Ada has already accepted"):
        billing.accept_price(told, actor=office, accepted_by="Bo")


def test_accept_price_that_was_overtaken_is_refused(job: Job, office: Person) -> None:
    first = billing.tell_price(job, actor=office, lines=[line()])
    billing.tell_price(job, actor=office, lines=[line("95.00")])
    with pytest.raises(PriceSettled, match=r"99\.75 USD"):
        billing.accept_price(first, actor=office, accepted_by="Ada")
