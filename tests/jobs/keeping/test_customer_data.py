"""A customer's data handed over and erased: which duty stands, what goes, what stays and until when."""

import io
import json
import zipfile
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse
from django.utils import timezone

from billing import actions as billing
from billing.actions.keeping import empty_invoices
from billing.models import Invoice
from billing.pricing import PriceLine
from billing.retention import ROOM as MONEY
from jobs import actions as jobs
from jobs.actions.erasures import duties_of, erase_customer
from jobs.actions.exports import ask_for_export, make_export
from jobs.actions.holds import add_hold, set_times
from jobs.actions.nights import keep_night
from jobs.models import DataExport, Erasure, Job, JobEvent, Opening, Photo
from jobs.models.keeping import EXPORTS_STORAGE
from jobs.tasks import make_export_task
from shop.customers.actions import ERASED
from shop.customers.models import Customer
from shop.errors import Refused
from shop.staff.models import Person
from tests.cast import office, once_key, owner, signed_in, technician
from tests.jobs.authority.rows import BORN, NUMBER
from tests.jobs.keeping.rows import check_of, done, keep_until, keyed, night, work_of
from tests.jobs.keys.rows import CODE
from tests.jobs.round_rows import PHONE, visit_of
from vehicles.models import Vehicle

pytestmark = pytest.mark.django_db

NAMED = ("Ella", "14 Mill Lane", PHONE, "KLM 204", "Keys on the seat")


@pytest.fixture(autouse=True)
def files_of_this_test(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = str(tmp_path)


@pytest.fixture
def boss() -> Person:
    return owner()


@pytest.fixture
def lock_out(boss: Person) -> Job:
    """A finished lock-out with a photo and a note; the plain default wants no record of it."""
    me = technician()
    visit = jobs.arrive(visit_of(me), actor=me)
    jobs.add_photo(visit.job, actor=me, file=ContentFile(b"photo", "car.jpg"), words="The car")
    jobs.add_note(visit.job, actor=me, words="Ella was kind")
    jobs.finish_visit(visit, actor=me)
    return Job.objects.get(pk=visit.job.pk)


def invoiced(job: Job, boss: Person, *, paid: bool = True) -> Invoice:
    line = PriceLine("labour", "Lock-out", Decimal(1), Decimal("80.00"), "labour")
    billing.tell_price(job, actor=boss, lines=[line], accepted_by="Ella")
    invoice = billing.issue_invoice(billing.draft_invoice(job, actor=boss), actor=boss)
    if paid:
        billing.record_payment(invoice, actor=boss, method="cash", amount=invoice.total)
    return Invoice.objects.get(pk=invoice.pk)


def words_of(customer: Customer) -> list[str]:
    return [duty.words for duty in duties_of(customer, timezone.localdate())]


def everything_of(job: Job) -> str:
    """All rows that could name the customer, as text."""
    fresh = Job.objects.get(pk=job.pk)
    customer = Customer.objects.get(pk=job.customer_id)
    rows = [*fresh.__dict__.values(), *customer.__dict__.values()]
    rows += [(event.words, event.details) for event in JobEvent.objects.filter(job=job)]
    rows += [vehicle.__dict__ for vehicle in Vehicle.objects.all()]
    for found in (customer.phones, customer.emails, customer.addresses):
        rows += list(found.values())
    return str(rows)


def test_a_customer_without_duties_is_erased_at_once(boss: Person, lock_out: Job) -> None:
    assert words_of(lock_out.customer) == []
    before = everything_of(lock_out)
    assert all(words in before for words in NAMED)
    (photo,) = Photo.objects.filter(job=lock_out)
    erasure = erase_customer(lock_out.customer, actor=boss, reason="Asked by letter")
    assert erasure.done_at and len(erasure.done) == 1
    after = everything_of(lock_out)
    assert not [words for words in NAMED if words in after]
    assert Customer.objects.get(pk=lock_out.customer_id).name == ERASED
    assert not Photo.objects.exists() and not Path(photo.file.path).exists()
    vehicle = Vehicle.objects.get()
    assert (vehicle.customer, vehicle.plate, vehicle.make, vehicle.model) == (None, "", "Merrow", "Tern")
    assert Job.objects.get(pk=lock_out.pk).finished_at == lock_out.finished_at


def test_an_open_job_an_unpaid_invoice_and_a_hold_stand_against_it(boss: Person, lock_out: Job) -> None:
    customer = lock_out.customer
    invoice = invoiced(lock_out, boss, paid=False)
    assert words_of(customer) == [f"Invoice {invoice.number} is not paid: 80.00 USD open."]
    with pytest.raises(Refused, match="is not paid"):
        erase_customer(customer, actor=boss, reason="Asked by letter")
    add_hold(customer, actor=boss, kind="dispute", reason="Says the lock was scratched")
    open_job = visit_of(technician(), hours=5).job
    Job.objects.filter(pk=open_job.pk).update(customer=customer)
    told = words_of(customer)
    assert "A hold stands on this customer: Says the lock was scratched" in told
    assert f"Job {open_job.number} is not finished." in told
    assert Customer.objects.get(pk=customer.pk).name == "Ella Holmere" and not Erasure.objects.exists()


def test_the_money_rule_keeps_an_invoice_and_only_that(boss: Person, lock_out: Job) -> None:
    set_times(actor=boss, money_years=7, photo_years=2)
    invoice = invoiced(lock_out, boss)
    today = timezone.localdate()
    (first, second) = duties_of(lock_out.customer, today)
    assert first.words == f"Invoice {invoice.number} is kept 7 years by the money rule."
    assert first.until == second.until == today.replace(year=today.year + 7)
    erasure = erase_customer(lock_out.customer, actor=boss, reason="Asked by letter")
    assert erasure.done_at is None
    assert Customer.objects.get(pk=lock_out.customer_id).name == ERASED
    invoice.refresh_from_db()
    assert invoice.parties["customer"]["name"] == "Ella Holmere"


def test_the_invoice_goes_in_the_night_after_its_last_day(boss: Person, lock_out: Job) -> None:
    set_times(actor=boss, money_years=1, photo_years=2)
    invoice = invoiced(lock_out, boss)
    erase_customer(lock_out.customer, actor=boss, reason="Asked by letter")
    today = timezone.localdate()
    days = (today.replace(year=today.year + 1) - today).days
    keep_night(night(days))
    invoice.refresh_from_db()
    assert invoice.parties["customer"]["name"] == "Ella Holmere"
    keep_night(night(days + 1))
    invoice.refresh_from_db()
    assert invoice.parties["customer"]["name"] == ERASED and invoice.parties["job"]["place"] == ""
    assert invoice.parties["vehicle"] is None and "Ella" not in json.dumps(invoice.parties)
    assert invoice.total == Decimal("80.00") and invoice.number
    assert Erasure.objects.get().done_at


def test_a_record_rule_keeps_its_job_until_its_day(boss: Person) -> None:
    made = keyed()
    job = done(made)
    (duty,) = duties_of(job.customer, timezone.localdate())
    assert duty.words == f"The record of job {job.number} is kept by the rule “Plain default”."
    assert duty.until == check_of(made).kept_until
    erasure = erase_customer(job.customer, actor=boss, reason="Asked by letter")
    assert erasure.done_at is None and check_of(made).name == "Ella Holmere" and work_of(made).code is not None
    assert Job.objects.get(pk=job.pk).street == "14 Mill Lane" and Vehicle.objects.get().vin
    keep_until(check_of(made), timezone.localdate() - timedelta(days=1))
    keep_night(night())
    assert check_of(made).name == "" and work_of(made).code is None
    assert not [words for words in NAMED if words in everything_of(job)]
    assert Erasure.objects.get().done_at


def test_erasing_twice_is_refused_while_it_is_under_way(boss: Person, lock_out: Job) -> None:
    invoiced(lock_out, boss)
    erase_customer(lock_out.customer, actor=boss, reason="Asked by letter")
    with pytest.raises(Refused, match="under way"):
        erase_customer(lock_out.customer, actor=boss, reason="Asked by letter")
    with pytest.raises(Refused, match="Only the owner"):
        erase_customer(lock_out.customer, actor=office(), reason="Asked by letter")


def test_a_customer_of_long_ago_is_erased_by_the_night(boss: Person, lock_out: Job) -> None:
    set_times(actor=boss, money_years=1, photo_years=1)
    Customer.objects.update(created_at=timezone.now())
    keep_night(night(365))
    assert Customer.objects.get(pk=lock_out.customer_id).name == "Ella Holmere"
    keep_night(night(368))
    assert Customer.objects.get(pk=lock_out.customer_id).name == ERASED
    assert Erasure.objects.get().asked_by is None


def test_an_emptied_invoice_prints_anew_without_a_name(boss: Person, lock_out: Job) -> None:
    invoice = invoiced(lock_out, boss)
    billing.make_paper(invoice.pk)
    invoice.refresh_from_db()
    old = Path(invoice.paper.path)
    assert old.exists()
    empty_invoices(Invoice.objects.filter(pk=invoice.pk), on=timezone.localdate())
    assert not old.exists()
    billing.make_paper(invoice.pk)
    invoice.refresh_from_db()
    assert Path(invoice.paper.path).exists()


def read(export: DataExport) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(EXPORTS_STORAGE.read(str(export.file.name))))


def test_the_file_has_everything_in_the_clear_and_nothing_sealed(boss: Person) -> None:
    made = keyed()
    job = done(made)
    jobs.add_photo(job, actor=made.me, file=ContentFile(b"photo", "car.jpg"), words="The car")
    invoiced(job, boss)
    export = ask_for_export(job.customer, actor=boss)
    make_export_task(export.pk)
    export.refresh_from_db()
    assert export.state == DataExport.State.DONE
    archive = read(export)
    told = json.loads(archive.read("data.json"))
    assert told["customer"]["name"] == "Ella Holmere" and told["phones"] == [{"number": PHONE, "label": ""}]
    (kept,) = told["jobs"]
    assert kept["number"] == job.number and kept["checks"][0]["document_number"] == "sealed"
    assert told["invoices"][0]["total"] == "80.00" and told["vehicles"][0]["plate"] == "KLM 204"
    assert any(name.startswith("photos/") for name in archive.namelist())
    text = archive.read("data.json").decode()
    assert not [value for value in (NUMBER, BORN.isoformat(), CODE) if value in text]
    assert not Opening.objects.filter(person=boss).exists()


def test_with_a_reason_the_sealed_is_opened_and_written_down(boss: Person) -> None:
    made = keyed()
    job = done(made)
    export = make_export(ask_for_export(job.customer, actor=boss, reason="Letter of 3 March"))
    told = json.loads(read(export).read("data.json"))
    (opened,) = told["opened"]["jobs"]
    assert (opened["document_number"], opened["born_on"], opened["code"]) == (NUMBER, BORN.isoformat(), CODE)
    reasons = set(Opening.objects.filter(person=boss).values_list("reason", flat=True))
    assert reasons == {"Customer's data: Letter of 3 March"}


def test_the_file_lies_encrypted_and_goes_after_seven_days(boss: Person, lock_out: Job) -> None:
    export = make_export(ask_for_export(lock_out.customer, actor=boss))
    path = Path(export.file.path)
    assert path.read_bytes()[:2] != b"PK" and b"Ella" not in path.read_bytes()
    keep_night(night(7))
    assert path.exists()
    keep_night(night(9))
    assert not path.exists() and not DataExport.objects.exists()


def test_the_page_says_which_duty_stands_before_and_after(boss: Person, lock_out: Job) -> None:
    invoice = invoiced(lock_out, boss)
    client, url = signed_in(boss), reverse("jobs:customer_data", args=[lock_out.customer_id])
    duty = f"Invoice {invoice.number} is kept 10 years by the money rule."
    assert duty in client.get(url).content.decode()
    assert client.post(url, {"act": "erase", "reason": "", "form_key": once_key()}).status_code == 422
    client.post(url, {"act": "erase", "reason": "Asked by letter", "form_key": once_key()})
    page = client.get(url).content.decode()
    assert duty in page and "Erased customer" in page and "Ella" not in page
    assert signed_in(office()).get(url).status_code == 403
    assert client.get(reverse("jobs:customer_data", args=[99999])).status_code == 404


def test_the_file_is_saved_by_the_owner_alone(boss: Person, lock_out: Job) -> None:
    client, url = signed_in(boss), reverse("jobs:customer_data", args=[lock_out.customer_id])
    client.post(url, {"act": "export", "form_key": once_key()})
    export = DataExport.objects.get()
    state, file = (reverse(f"jobs:{name}", args=[export.pk]) for name in ("export_state", "export_file"))
    assert "Being made" in client.get(state).content.decode() and client.get(file).status_code == 404
    make_export_task(export.pk)
    assert "Save the file" in client.get(state).content.decode()
    answer = client.get(file)
    assert answer["Content-Type"] == "application/zip" and answer.content[:2] == b"PK"
    assert signed_in(office()).get(file).status_code == 403


def test_money_records_under_a_hold_stay(boss: Person, lock_out: Job) -> None:
    set_times(actor=boss, money_years=1, photo_years=1)
    invoice = invoiced(lock_out, boss)
    add_hold(lock_out, actor=boss, kind="dispute", reason="Chargeback")
    assert MONEY.steps[0].due(timezone.localdate() + timedelta(days=800)) == 0
    keep_night(night(800))
    invoice.refresh_from_db()
    assert invoice.parties["customer"]["name"] == "Ella Holmere"
