"""A job that comes back: chosen on the call page or the job, and then charged at nothing."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from billing import actions as billing
from jobs import actions as jobs
from jobs.models import Job
from jobs.states import KindOfWork
from shop.actions import change_shop
from shop.errors import Refused
from shop.models import Shop
from tests import cast
from tests.billing import make
from tests.billing.test_call_page import slip
from tests.billing.worked import finished, line, vehicle, visit_on_site

pytestmark = pytest.mark.django_db
URL = "/calls/new"
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def book() -> None:
    make.shop(guarantee_days=60)
    make.price_book(is_weekend_after_hours=False, after_hours_price=Decimal(0))


@pytest.fixture
def desk() -> Client:
    return cast.signed_in(cast.office())


def done(days_ago: int = 5, of: Any = None, **facts: Any) -> Job:
    """A job that was finished so many days ago, on the customer's vehicle."""
    of = of or make.customer()
    return finished(of=of, told=[line()], start=timezone.now() - days_ago * DAY, **facts)


def back_call(first: Job, **typed: Any) -> dict[str, Any]:
    """The slip of a known caller who says that a job came back."""
    empty = {"name": "", "plate": "", "make": "", "model": ""}
    return slip(**{**empty, "customer": first.customer.pk, "comeback_of": first.pk, "is_accepted": "", **typed})


def test_a_known_caller_is_offered_the_jobs_under_guarantee_and_none_is_chosen(desk: Client) -> None:
    first = done()
    car = vehicle(first.customer)
    late = done(59, of=first.customer, vehicle=car)
    over, other = done(61, of=first.customer), done(of=make.customer("Bea Orlov", "+12015550124"))
    waiting = make.job(first.customer)
    page = desk.get(URL, {"customer": first.customer.pk}).content.decode()
    choice = page.partition('name="comeback_of"')[2].partition("</select>")[0]
    assert f'<option value="{first.pk}">Job {first.number}: ' in choice
    assert f'<option value="{late.pk}">Job {late.number}: Lock-out, KLM 204' in choice
    assert all(f'value="{each.pk}"' not in choice for each in (over, other, waiting))
    assert '<option value="" selected>' in choice


def test_a_caller_without_such_jobs_is_not_asked(desk: Client) -> None:
    assert 'name="comeback_of"' not in desk.get(URL, {"customer": make.customer().pk}).content.decode()


def test_a_comeback_taken_on_the_call_page_is_drafted_at_nothing_and_linked_both_ways(desk: Client) -> None:
    of = make.customer()
    first = done(of=of, vehicle=vehicle(of))
    assert desk.post(URL, back_call(first)).status_code == 302
    again = Job.objects.latest("pk")
    assert (again.comeback_of, again.vehicle) == (first, first.vehicle)
    tech = cast.technician()
    jobs.finish_visit(visit_on_site(again, tech, start=timezone.now() - DAY / 24), actor=tech)
    assert billing.draft_invoice(again, actor=None).total == 0
    assert f'comeback of <a href="/jobs/{first.number}">' in desk.get(f"/jobs/{again.number}").content.decode()
    assert f'<a href="/jobs/{again.number}">{again.number}</a>' in desk.get(f"/jobs/{first.number}").content.decode()


def test_another_callers_job_or_another_vehicle_is_refused_with_words(desk: Client) -> None:
    of = make.customer()
    first, other = done(of=of, vehicle=vehicle(of)), done(of=make.customer("Bea Orlov", "+12015550124"))
    for typed, said in (
        (back_call(first, comeback_of=other.pk), "was for another customer"),
        (back_call(first, plate="QRS 901", make="Brixo"), f"Job {first.number} was on another vehicle"),
    ):
        answer = desk.post(URL, typed)
        assert answer.status_code == 422
        assert said in answer.content.decode()
    assert Job.objects.count() == 2


def test_a_kept_slip_whose_guarantee_ended_says_so(desk: Client) -> None:
    first = done(61)
    answer = desk.post(URL, back_call(first))
    assert (answer.status_code, "no longer under guarantee" in answer.content.decode()) == (422, True)
    assert 'name="comeback_of"' in answer.content.decode()


def test_letting_the_caller_go_forgets_the_comeback(desk: Client) -> None:
    first = done()
    page = desk.post(URL, back_call(first, do="forget")).content.decode()
    assert 'name="comeback_of"' not in page


def test_the_job_page_sets_and_clears_it_and_writes_it_down(desk: Client) -> None:
    first = done()
    again = make.job(first.customer, called_at=timezone.now())
    path = f"/jobs/{again.number}/change"
    page = desk.get(path).content.decode()
    assert f'<option value="{first.pk}">Job {first.number}: ' in page
    for chosen in (first, None):
        form = {"kind_of_work": KindOfWork.LOCK_OUT, "locked_in": "nobody", "expected_minutes": "60", "payer": "caller"}
        form |= {"comeback_of": str(chosen.pk) if chosen else "", "form_key": cast.once_key()}
        assert desk.post(path, form).status_code == 302
        again.refresh_from_db()
        assert again.comeback_of == chosen
    assert f"Comeback of: nothing → Job {first.number}" in desk.get(f"/jobs/{again.number}").content.decode()


def test_actions_refuse_what_cannot_come_back() -> None:
    first, other = done(), done(of=make.customer("Bea Orlov", "+12015550124"))
    waiting = make.job(first.customer)
    for wrong, said in ((other, "another customer"), (waiting, "not finished")):
        with pytest.raises(Refused, match=said):
            make.job(first.customer, comeback_of=wrong)
    for wrong, said in ((other, "another customer"), (first, "itself")):
        with pytest.raises(Refused, match=said):
            jobs.change_job(first, actor=None, comeback_of=wrong)


def test_no_days_of_guarantee_offer_nothing(desk: Client) -> None:
    first = done()
    change_shop(actor=None, guarantee_days=0)
    Shop.forget()
    assert 'name="comeback_of"' not in desk.get(URL, {"customer": first.customer.pk}).content.decode()
