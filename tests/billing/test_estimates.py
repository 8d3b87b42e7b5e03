"""Times on site at the desk: at intake, in the night and by hand."""

from datetime import timedelta
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from billing.forms.call import usual_promise
from billing.prices import usual_minutes
from billing.tasks import learn_times
from jobs import actions as jobs
from jobs.estimates import estimate_for
from jobs.models import Job, TimeEstimate
from jobs.states import KindOfWork
from shop.schedules import SCHEDULES
from tests import cast
from tests.billing import make
from tests.jobs.round_rows import visit_of
from vehicles.actions import add_vehicle

pytestmark = pytest.mark.django_db
URL = "/calls/new"


@pytest.fixture(autouse=True)
def book() -> None:
    make.shop()
    make.price_book()


@pytest.fixture
def office() -> Client:
    return cast.signed_in(cast.office())


@pytest.fixture
def history() -> None:
    """Six lock-outs of a Merrow Tern, twice as long as the price book says."""
    me = cast.technician()
    for ago, minutes in enumerate((58, 66, 71, 60, 63, 55), start=1):
        visit = visit_of(me, hours=-24 * ago)
        jobs.arrive(visit, actor=me, at=visit.starts_at)
        jobs.finish_visit(visit, actor=me, at=visit.starts_at + timedelta(minutes=minutes))


def slip(**typed: Any) -> dict[str, Any]:
    usual = {
        "form_key": str(uuid4()),
        "phone": "(201) 555-0199",
        "name": "Ada Vermeer",
        "locked_in": "nobody",
        "kind_of_work": "lock_out",
        "make": "Merrow",
        "model": "Tern",
        "payer": "caller",
        **usual_promise(timezone.now(), 60),
    }
    return {**usual, **typed}


def test_usual_minutes_are_the_price_books_and_an_hour_where_it_has_none() -> None:
    told = usual_minutes()
    assert set(told) == set(KindOfWork.values)
    assert (told["lock_out"], told["all_keys_lost"], told["rekey"]) == (30, 90, 60)


def test_intake_shows_the_estimate_and_expects_its_minutes(history: None, office: Client) -> None:
    jobs.store_estimates(usual=usual_minutes())
    said = estimate_for("lock_out", make="Merrow", model="Tern")
    assert said and said.minutes > 45
    part = office.post(URL, slip(do="price"), HTTP_HX_REQUEST="true").content.decode()
    assert said.line in part and "(6 jobs on this model)" in part
    office.post(URL, slip(do="take"))
    assert Job.objects.latest("id").expected_minutes == said.minutes


def test_intake_knows_a_chosen_vehicle(history: None, office: Client) -> None:
    jobs.store_estimates(usual=usual_minutes())
    caller = make.customer(name="Bo Lind", phone="+12015550177")
    vehicle = add_vehicle(actor=None, customer=caller, make="Merrow", model="Tern", plate="KLM 209")
    sent = slip(do="price", customer=caller.pk, vehicle=vehicle.pk, make="", model="")
    assert "6 jobs on this model" in office.post(URL, sent, HTTP_HX_REQUEST="true").content.decode()


def test_intake_before_the_first_night_expects_the_price_books_minutes(history: None, office: Client) -> None:
    page = office.post(URL, slip(do="price"), HTTP_HX_REQUEST="true").content.decode()
    assert "30 min in the price book" in page and 'id="expected"' not in page
    office.post(URL, slip(do="take"))
    assert Job.objects.latest("id").expected_minutes == 30


def test_night_learns_once_and_when_called_again_leaves_it(history: None) -> None:
    learn_times()
    first = TimeEstimate.objects.get(level="shop")
    assert first.jobs == 6
    learn_times()
    assert TimeEstimate.objects.get(level="shop").pk == first.pk
    assert SCHEDULES["learn-times"]["task"] == learn_times.name


def test_command_stores_by_hand(history: None) -> None:
    said = StringIO()
    call_command("estimates", "--store", stdout=said)
    assert said.getvalue() == f"{TimeEstimate.objects.count()} rows kept.\n"
    assert TimeEstimate.objects.get(level="shop").jobs == 6


def test_command_prints_what_the_ranges_hold_and_stores_nothing(history: None, monkeypatch: pytest.MonkeyPatch) -> None:
    # Fewer invented visits than by hand, to be quick; the figures themselves are tested with the model.
    monkeypatch.setattr("billing.management.commands.estimates.LEARNED", (150,))
    said = StringIO()
    call_command("estimates", stdout=said)
    text = said.getvalue()
    assert "6 invented shops" in text and "Remote or fob programming" in text
    assert "The ranges hold (75 to 85 %), the error is smaller than the plain average's." in text
    assert "This shop's last 30 days: 0 earlier visits learned from" in text
    assert "Only 6 jobs: chance weighs much." in text
    assert not TimeEstimate.objects.exists()
