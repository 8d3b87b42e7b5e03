"""The technician's end of a visit: finish, hand over, invoice, money."""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from billing import actions as billing
from billing.models import Invoice, Payment
from jobs.actions import allow_exception
from jobs.models import JobEvent, Visit
from jobs.states import KindOfWork
from shop.staff.models import Person
from tests import cast
from tests.billing import make
from tests.billing.test_invoice_pages import words
from tests.billing.worked import VIN, finished, line, vehicle, visit_on_site

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def _shop(tmp_path: Path, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    make.shop()
    make.price_book()


@pytest.fixture
def tech() -> Person:
    return cast.technician()


@pytest.fixture
def phone(tech: Person) -> Client:
    return cast.signed_in(tech)


def on_site(tech: Person, **facts: Any) -> Visit:
    person = make.customer()
    known = vehicle(person, vin="")
    job = make.job(person, **{"vehicle": known, "kind_of_work": KindOfWork.ALL_KEYS_LOST, **facts})
    visit = visit_on_site(job, tech, start=timezone.now().replace(second=30, microsecond=0) - timedelta(hours=2))
    # Who may have the key is checked elsewhere; here it was settled.
    allow_exception(job, actor=cast.owner(), reason="Known to the owner")
    return visit


def times(visit: Visit, **changes: Any) -> dict[str, str]:
    """The times as the form shows them, in whole minutes."""
    assert visit.arrived_at is not None and visit.set_off_at is not None
    moments = {
        "set_off_at": visit.set_off_at,
        "arrived_at": visit.arrived_at,
        "finished_at": visit.arrived_at + timedelta(minutes=50),
        **changes,
    }
    return {name: f"{moment:%Y-%m-%dT%H:%M}" if moment else "" for name, moment in moments.items()}


def test_finish_asks_for_what_is_missing(phone: Client, tech: Person) -> None:
    page = words(phone.get(f"/round/{on_site(tech).pk}/finish"))
    for said in ("Was nothing used?", "The VIN is not recorded", "Nothing is noted", "Km driven"):
        assert said in page


def test_finish_without_parts_needs_a_plain_yes(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    answer = phone.post(f"/round/{visit.pk}/finish", times(visit))
    assert answer.status_code == 422
    assert "tick that nothing was used" in words(answer)
    assert Visit.objects.get().state == "on_site"


def test_finish_leads_to_the_handover_with_a_draft(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    form = {**times(visit), "nothing_used": "on", "vin": VIN.lower(), "words": "Key made", "drive_km": "12,4"}
    form["form_key"] = cast.once_key()
    for _ in range(2):
        assert phone.post(f"/round/{visit.pk}/finish", form)["Location"] == f"/round/{visit.pk}/handover"
    done = Visit.objects.select_related("job__vehicle").get()
    assert (done.state, done.job.state, done.job.vehicle.vin) == ("finished", "finished", VIN)  # type: ignore[union-attr]
    assert (done.set_off_at, done.arrived_at, done.drive_km) == (visit.set_off_at, visit.arrived_at, D("12.4"))
    assert Invoice.objects.get().job == done.job
    assert JobEvent.objects.filter(kind="finished", words="Key made").exists()


def test_finish_corrects_the_times_and_records_it(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    assert visit.arrived_at is not None
    earlier = visit.arrived_at - timedelta(minutes=5)
    form = {**times(visit, arrived_at=earlier), "nothing_used": "on"}
    assert phone.post(f"/round/{visit.pk}/finish", form).status_code == 302
    assert Visit.objects.get().arrived_at == earlier.replace(second=0)
    assert JobEvent.objects.filter(kind="times_corrected").count() == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"finished_at": -30}, "The finish is before the arrival"),
        ({"set_off_at": 10}, "Arrival is before setting off"),
        ({"finished_at": 60 * 24 * 3}, "still to come"),
        ({"vin": "1M8GDM9AXKP04278"}, "17"),
        ({"vin": "1M8GDM9AXKP0427888"}, "17"),
        ({"vin": "1M8GDM9AXKPO42788"}, "O"),
        ({"drive_km": "-3"}, "At least 0."),
        ({"finished_at": None}, "required"),
    ],
)
def test_finish_with_bad_input_is_told_and_nothing_is_finished(
    phone: Client, tech: Person, changes: dict[str, Any], said: str
) -> None:
    visit = on_site(tech)
    assert visit.arrived_at is not None
    moments = {
        name: visit.arrived_at + timedelta(minutes=value) if isinstance(value, int) else value
        for name, value in changes.items()
        if name.endswith("_at")
    }
    typed = {name: value for name, value in changes.items() if not name.endswith("_at")}
    answer = phone.post(f"/round/{visit.pk}/finish", {**times(visit, **moments), "nothing_used": "on", **typed})
    assert answer.status_code == 422
    assert said in words(answer)
    assert (Visit.objects.get().state, Invoice.objects.count()) == ("on_site", 0)


def test_finish_for_another_visit_drafts_nothing_and_the_job_waits(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    answer = phone.post(f"/round/{visit.pk}/finish", {**times(visit), "needs_another_visit": "on"})
    assert answer["Location"] == "/round"
    assert (Visit.objects.get().job.state, Invoice.objects.count()) == ("waiting", 0)


def test_visit_of_another_technician_is_not_found(tech: Person) -> None:
    visit = on_site(tech)
    stranger = cast.signed_in(cast.technician())
    for page in ("finish", "handover"):
        assert stranger.get(f"/round/{visit.pk}/{page}").status_code == 404
    assert cast.signed_in(cast.office()).get(f"/round/{visit.pk}/finish").status_code == 403


def test_handover_goes_from_keys_to_receipt(phone: Client, tech: Person) -> None:
    visit = finished(tech, told=[line()]).visits.get()
    here = f"/round/{visit.pk}/handover"
    assert "Draw up invoice" not in words(phone.get(here))
    phone.post(here, {"keys": "2", "is_shown_to_work": "on"})
    assert "Handed over: 2 keys, every key and function shown to work." in words(phone.get(here))
    assert phone.post(f"/round/{visit.pk}/invoice")["Location"] == here
    invoice = Invoice.objects.get()
    assert "Price told 84.00 USD" in words(phone.get(here))
    assert phone.post(f"/invoices/{invoice.pk}/issue", {"next": here, "seen": "84"})["Location"] == here
    paid = phone.post(f"/invoices/{invoice.pk}/pay", {"method": "cash", "amount": "84.00", "next": here})
    assert paid["Location"] == here
    page = words(phone.get(here))
    assert "Nothing is left to pay" in page and "Back to the round" in page
    assert Payment.objects.get().taken_by == tech


def test_a_price_told_after_the_draft_is_said_and_charged_when_accepted(phone: Client, tech: Person) -> None:
    job = finished(tech, told=[line()])
    here = f"/round/{job.visits.get().pk}/handover"
    phone.post(f"/round/{job.visits.get().pk}/invoice")
    newer = billing.tell_price(job, actor=tech, lines=[line(price="90.00")])
    page = words(phone.get(here))
    assert "94.50 USD was told" in page and "not accepted yet" in page
    assert "Price to charge 84.00 USD" in page
    billing.accept_price(newer, actor=tech, accepted_by="Ines Vance")
    assert "This is 10.50 USD less than told" in words(phone.get(here))
    assert phone.post(f"/invoices/{Invoice.objects.get().pk}/redraft", {"next": here})["Location"] == here
    page = words(phone.get(here))
    assert "Price to charge 94.50 USD" in page and "than told" not in page


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"keys": "", "is_shown_to_work": "on"}, "Count the keys"),
        ({"keys": "-1", "is_shown_to_work": "on"}, "At least 0."),
        ({"keys": "two", "is_shown_to_work": "on"}, "whole number"),
        ({"keys": "2"}, "Say what could not be shown to work"),
    ],
)
def test_handover_with_bad_input_is_told(phone: Client, tech: Person, typed: dict[str, str], said: str) -> None:
    visit = finished(tech, told=[line()]).visits.get()
    answer = phone.post(f"/round/{visit.pk}/handover", typed)
    assert answer.status_code == 422
    assert said in words(answer)
    assert not JobEvent.objects.filter(details__has_key="handed_over").exists()


def test_next_address_elsewhere_is_not_followed(phone: Client, tech: Person) -> None:
    finished(tech, told=[line()])
    visit = Visit.objects.get()
    phone.post(f"/round/{visit.pk}/invoice")
    invoice = Invoice.objects.get()
    answer = phone.post(f"/invoices/{invoice.pk}/issue", {"next": "https://elsewhere.example/", "seen": "84"})
    assert answer["Location"] == f"/invoices/{invoice.pk}"


def test_invoice_of_an_open_job_is_refused_in_words_on_the_phone(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    answer = phone.post(f"/round/{visit.pk}/invoice", follow=True)
    assert answer.redirect_chain == [(f"/round/{visit.pk}", 302)]
    assert "finish it first" in words(answer)
    assert not Invoice.objects.exists()


def test_vin_read_at_the_finish_stands_in_the_jobs_history(phone: Client, tech: Person) -> None:
    visit = on_site(tech)
    assert (
        phone.post(f"/round/{visit.pk}/finish", {**times(visit), "vin": VIN, "nothing_used": "on"}).status_code == 302
    )
    changed = JobEvent.objects.get(job=visit.job, kind="changed")
    assert (changed.details, changed.by) == ({"vin": ["", VIN]}, tech)
