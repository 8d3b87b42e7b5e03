"""A new price told on a job, by the office and by the technician on the spot."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from billing import actions as billing
from billing.models import Quotation
from billing.prices import propose_lines
from jobs import actions as jobs
from jobs.models import Job
from shop.staff.models import Person
from tests import cast
from tests.billing import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def job() -> Job:
    make.shop()
    make.price_book(after_hours_price=Decimal(0))
    return make.job()


@pytest.fixture
def office() -> Client:
    return cast.signed_in(cast.office())


def book(job: Job, technician: Person) -> None:
    start = timezone.now() + timedelta(hours=1)
    jobs.book_visit(job, actor=None, technician=technician, start=start, end=start + timedelta(hours=1))


def price(text: str = "Lock-out", amount: str = "95.00", **typed: Any) -> dict[str, Any]:
    line = {"text": text, "kind": "labour", "quantity": "1", "price": amount, "tax_class": "labour"}
    sent = {"do": "tell", "form_key": str(uuid4()), **{f"line-0-{name}": value for name, value in line.items()}}
    return {**sent, **typed}


def url(job: Job) -> str:
    return f"/jobs/{job.number}/price"


def test_new_price_page_begins_with_the_price_book_then_with_the_price_told_last(job: Job, office: Client) -> None:
    assert 'value="80.00"' in office.get(url(job)).content.decode()
    lines = propose_lines(job.kind_of_work, at=make.NOON, km=Decimal(20))
    billing.tell_price(job, actor=None, lines=lines)
    page = office.get(url(job)).content.decode()
    assert "call-out band 2: 20 km" in page or "call-out band 2: 20.0 km" in page
    assert "Not accepted yet" in page


def test_new_price_is_told_and_the_old_one_kept(job: Job, office: Client) -> None:
    billing.tell_price(job, actor=None, lines=propose_lines(job.kind_of_work, at=make.NOON), accepted_by="Ada")
    answer = office.post(url(job), price(is_accepted="on"))
    assert answer.status_code == 302
    new, old = Quotation.objects.filter(job=job).newest_first()
    assert (new.total, new.accepted_by, old.accepted_by) == (Decimal("99.75"), "Ada Vermeer", "Ada")


def test_new_price_by_a_technician_on_their_own_job_only(job: Job) -> None:
    own, other = cast.technician(), cast.technician()
    book(job, own)
    assert cast.signed_in(other).get(url(job)).status_code == 404
    assert cast.signed_in(other).post(url(job), price()).status_code == 404
    phone = cast.signed_in(own)
    assert "next-step" in phone.get(url(job)).content.decode()
    assert phone.post(url(job), price()).status_code == 302
    assert Quotation.objects.get().told_by == own


def test_new_price_of_a_missing_job_or_by_a_stranger(office: Client) -> None:
    assert office.get("/jobs/999999/price").status_code == 404
    assert office.post("/jobs/999999/price/1/accept").status_code == 404
    assert Client().get("/jobs/1/price").status_code == 302


def test_new_price_refuses_other_methods(job: Job, office: Client) -> None:
    assert office.delete(url(job)).status_code == 405
    assert office.get(f"{url(job)}/1/accept").status_code == 405


def test_new_price_sent_twice_is_told_once(job: Job, office: Client) -> None:
    sent = price()
    office.post(url(job), sent)
    office.post(url(job), sent)
    assert Quotation.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"line-0-quantity": "-2"}, "more than nothing"),
        ({"line-0-price": "nothing"}, "is not an amount"),
        ({"line-0-text": ""}, "Say what this line is for."),
        ({"line-0-item": "999999", "line-0-kind": "item"}, "not in stock"),
        ({"line-0-kind": "bribe"}, "bribe"),
    ],
)
def test_new_price_with_nonsense_is_refused_beside_the_line(
    job: Job, office: Client, typed: dict[str, str], words: str
) -> None:
    answer = office.post(url(job), price(**typed))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Quotation.objects.exists()


def test_new_price_without_lines_is_refused(job: Job, office: Client) -> None:
    answer = office.post(url(job), {"do": "tell", "form_key": str(uuid4())})
    assert answer.status_code == 422
    assert "at least one line" in answer.content.decode()


def test_new_price_is_added_up_while_it_is_typed(job: Job, office: Client) -> None:
    answer = office.post(url(job), price(do="total"), headers={"HX-Request": "true"}).content.decode()
    assert "99.75" in answer
    assert "<html" not in answer
    assert not Quotation.objects.exists()


def test_discount_line_takes_off_whatever_its_sign(job: Job, office: Client) -> None:
    for n, typed in enumerate(("10", "-10")):
        off = {"line-1-text": "Regular", "line-1-kind": "discount", "line-1-quantity": "1", "line-1-price": typed}
        office.post(url(job), price(**off))
        # 95.00 - 10.00 and 5 % on it: the discount is of the class of the call-out.
        assert Quotation.objects.newest_of(job).total == Decimal("89.25"), n


def test_accept_price_told_before(job: Job, office: Client) -> None:
    told = billing.tell_price(job, actor=None, lines=propose_lines(job.kind_of_work, at=make.NOON))
    office.post(f"{url(job)}/{told.pk}/accept", {"accepted_by": ""})
    told.refresh_from_db()
    assert told.accepted_at is None
    office.post(f"{url(job)}/{told.pk}/accept", {"accepted_by": "Ada Vermeer"})
    told.refresh_from_db()
    assert told.accepted_by == "Ada Vermeer"


def test_accept_price_of_another_job_is_not_found(job: Job, office: Client) -> None:
    other = make.job(make.customer("Bo Lind", "+12015550188"))
    told = billing.tell_price(other, actor=None, lines=propose_lines(job.kind_of_work, at=make.NOON))
    assert office.post(f"{url(job)}/{told.pk}/accept", {"accepted_by": "Ada"}).status_code == 404


@pytest.mark.parametrize("count", [1, 3])
def test_new_price_page_asks_the_same_queries_for_any_number_told(
    job: Job, office: Client, count: int, django_assert_num_queries: Any
) -> None:
    for _ in range(count):
        billing.tell_price(job, actor=None, lines=propose_lines(job.kind_of_work, at=make.NOON))
    office.get(url(job))
    with django_assert_num_queries(9):
        office.get(url(job))
