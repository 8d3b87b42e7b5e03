"""One job taken all the way from ring to receipt, through the actions: a row of everything that an address can name."""

import io
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from billing import actions as billing
from billing.actions.prices import add_tax_rate
from billing.models import Invoice, Payment, Quotation, TaxRate
from billing.pricing import PriceLine
from jobs import actions as jobs
from jobs.actions.exports import ask_for_export, make_export
from jobs.actions.holds import add_hold
from jobs.actions.inspections import write_request
from jobs.models import (
    AuthorityCheck,
    AuthorityPhoto,
    CallDraft,
    DataExport,
    Hold,
    InspectionRequest,
    Job,
    PartUse,
    Photo,
    ProcedureRun,
    RecordRule,
    Visit,
)
from jobs.signatures import Signature
from jobs.states import KindOfWork
from shop.customers import actions as customers
from shop.customers.models import Address, Customer
from shop.pictures import read_picture
from shop.staff import actions as staff
from shop.staff.models import DayOff, Person
from shop.stock import actions as stock
from shop.stock.models import Item, Place, Supplier
from tests.cast import office, owner, technician
from vehicles.actions import add_family, add_key_system, add_procedure, add_variant, add_vehicle
from vehicles.actions.code_books import begin_code_book, check_code_book, store_code_book, take_in_code_book
from vehicles.actions.trial_plans import ask_for_plan
from vehicles.keys import KeySystem
from vehicles.models import (
    CodeBook,
    CodeBookImport,
    KeySystemSheet,
    Procedure,
    ProcedureVersion,
    TrialPlanRequest,
    Variant,
    Vehicle,
    VehicleFamily,
)
from vehicles.procedure_content import Content, StepContent


@dataclass(frozen=True)
class World:
    """The rows; `technician` drives the visit and the van."""

    owner: Person
    office: Person
    technician: Person
    day_off: DayOff
    customer: Customer
    address: Address
    vehicle: Vehicle
    supplier: Supplier
    item: Item
    van: Place
    draft: CallDraft
    job: Job
    visit: Visit
    part: PartUse
    photo: Photo
    check: AuthorityCheck
    paper_photo: AuthorityPhoto
    rule: RecordRule
    quotation: Quotation
    tax_rate: TaxRate
    invoice: Invoice
    payment: Payment
    key_system: KeySystemSheet
    family: VehicleFamily
    variant: Variant
    procedure: Procedure
    version: ProcedureVersion
    run: ProcedureRun
    code_book_import: CodeBookImport
    code_book: CodeBook
    trial_plan: TrialPlanRequest
    hold: Hold
    export: DataExport
    inspection_request: InspectionRequest


def make_world(now: datetime | None = None) -> World:
    """A finished, invoiced and half-paid job of this morning."""
    at = now or timezone.now()
    people = {"owner": owner(), "office": office(), "technician": technician(hourly_cost=Decimal("30"))}
    desk, driver = people["office"], people["technician"]
    caller = _caller(desk)
    kept = _stock(desk, driver)
    job = jobs.take_call(
        actor=desk,
        customer=caller["customer"],
        vehicle=caller["vehicle"],
        kind_of_work=KindOfWork.LOCK_OUT,
        called_at=at - timedelta(hours=3),
    )
    tax_rate = add_tax_rate(
        actor=people["owner"], tax_class="labour", name="Tax", percent=Decimal("5"), holds_from=at.date()
    )
    line = PriceLine("labour", "Lock-out", Decimal(1), Decimal("80.00"), "labour")
    quotation = billing.tell_price(job, actor=desk, lines=[line], accepted_by="Ella")
    worked = _worked(job, driver, kept, at)
    invoice = billing.issue_invoice(billing.draft_invoice(job, actor=driver), actor=driver)
    payment = billing.record_payment(invoice, actor=driver, method="cash", amount=Decimal("10.00"))
    day_off = staff.add_day_off(driver, actor=None, on=(at + timedelta(days=9)).date())[0]
    draft = jobs.keep_draft(uuid4(), actor=desk, typed={"name": "Half a name"})
    rows: dict[str, Any] = {**people, **caller, **kept, **worked, **_keys(people["owner"]), **_known(people, kept)}
    rows["rule"] = jobs.copy_rule(worked["check"].rule, actor=people["owner"], name="Ours")
    # On site it would begin by the action; this visit is over, and so is its page shown.
    rows["run"] = ProcedureRun.objects.create(
        job=job, visit=rows["visit"], version=rows["version"], family=rows["family"], started_by=driver
    )
    rows |= {"day_off": day_off, "draft": draft, "job": job, **_kept(people["owner"], job)}
    return World(**rows, quotation=quotation, tax_rate=tax_rate, invoice=invoice, payment=payment)


def _caller(desk: Person) -> dict[str, Any]:
    customer = customers.add_customer(actor=desk, name="Ella Holmere", phones=[("+12015550123", "")])
    address = customers.add_address(customer, actor=desk, street="Mill Lane 14")
    vehicle = add_vehicle(actor=desk, customer=customer, plate="KLM 204", vin="1M8GDM9AXKP042788")
    return {"customer": customer, "address": address, "vehicle": vehicle}


def _stock(desk: Person, driver: Person) -> dict[str, Any]:
    supplier = stock.add_supplier(actor=desk, name="Blanks and Sons")
    item = stock.add_item(
        actor=desk, number="TB-1", name="Transponder blank", kind="transponder_blank", price=Decimal(9)
    )
    van = stock.add_place(actor=desk, name="Van 1", kind="van", driver=driver)
    stock.receive(item, actor=desk, place=van, quantity=5, unit_cost=Decimal("4"))
    return {"supplier": supplier, "item": item, "van": van}


def _worked(job: Job, driver: Person, kept: dict[str, Any], at: datetime) -> dict[str, Any]:
    start = at - timedelta(hours=2)
    visit = jobs.book_visit(job, actor=driver, technician=driver, start=start, end=start + timedelta(hours=1))
    visit = jobs.set_off(visit, actor=driver, at=start)
    visit = jobs.arrive(visit, actor=driver, at=start + timedelta(minutes=10))
    part = jobs.use_part(job, actor=driver, item=kept["item"], quantity=1, place=kept["van"], visit=visit)
    photo = jobs.add_photo(job, actor=driver, file=SimpleUploadedFile("lock.png", _picture()), words="The lock")
    paper = jobs.keep_paper_photo(job, actor=driver, file=ContentFile(_picture(), name="papers.png"))
    passed = jobs.pass_check(job, actor=driver, visit=visit, facts=asked(photos=[paper]))
    # A test case copies its rows, which sealed values refuse.
    check = AuthorityCheck.objects.defer("born_on", "document_number", "signature").get(pk=passed.pk)
    visit = jobs.finish_visit(visit, actor=driver, at=start + timedelta(minutes=40))
    return {"visit": visit, "part": part, "photo": photo, "check": check, "paper_photo": paper}


def asked(**changed: Any) -> jobs.CheckFacts:
    """Somebody who asks for a key, with whole papers; nobody real."""
    told: dict[str, Any] = {
        "name": "Ella Holmere",
        "relationship": "owner",
        "document_kind": "licence",
        "document_number": "QX-7719-204-K",
        "born_on": date(1981, 4, 17),
        "papers": ("registration",),
        "vin_on_car": "1M8GDM9AXKP042788",
        "vin_on_papers": "1M8GDM9AXKP042788",
        "signature": Signature((((21, 121), (83, 44), (139, 161), (217, 63), (426, 133)),)),
    }
    return jobs.CheckFacts(**{**told, **changed})


def _keys(boss: Person) -> dict[str, Any]:
    """An invented key system with a code book of one code, and a plan that the owner asked for."""
    steps = [Decimal(step) for step in ("4.0", "6.5", "9.0", "11.5")]
    depths = {"1": Decimal("8.0"), "2": Decimal("7.6"), "3": Decimal("7.2")}
    sheet = add_key_system(actor=boss, system=KeySystem(name="Alder", positions_mm=steps, root_depths_mm=depths))
    facts = {"name": "Alder A", "code_format": "A###", "first_code": "A001", "last_code": "A999"}
    words = {"source": "Invented", "licence_note": "Ours"}
    made = begin_code_book(
        actor=boss, key_system=sheet, content=b"code,bitting\nA001,1231\n", file_name="a.csv", facts={**facts, **words}
    )
    check_code_book(made)
    made = take_in_code_book(made, actor=boss)
    store_code_book(made)
    plan = ask_for_plan(sheet, actor=boss, known=["1", None, "3", "1"])
    return {
        "key_system": sheet,
        "code_book_import": made,
        "code_book": CodeBook.objects.get(),
        "trial_plan": plan,
    }


def _known(people: dict[str, Person], kept: dict[str, Any]) -> dict[str, Any]:
    """An invented family with a variant, and a technician's procedure for it that nobody has accepted."""
    family = add_family(
        actor=people["office"],
        make="Halden",
        name="Brisk",
        model_names=["Brisk"],
        year_from=2012,
        year_until=2020,
        items=[(kept["item"], "transponder")],
    )
    variant = add_variant(family, actor=people["office"], name="Late", sign="Two lights", photo=_jpeg())
    content = Content((StepContent("do", "Look"), StepContent("wait", "Leave it", seconds=60)), "Invented")
    procedure = add_procedure(family, actor=people["technician"], kind_of_work="lock_out", content=content)
    return {"family": family, "variant": variant, "procedure": procedure, "version": procedure.versions.get()}


def _kept(boss: Person, job: Job) -> dict[str, Any]:
    """A hold, a file of the customer's data being made, an authority that asks for the job."""
    asked = write_request(actor=boss, authority="The bureau", received_on=job.called_at.date(), way="post", job=job)
    return {
        "hold": add_hold(job, actor=boss, kind="dispute", reason="Not their car"),
        "export": make_export(ask_for_export(job.customer, actor=boss)),
        "inspection_request": asked,
    }


def _jpeg() -> bytes:
    return read_picture(io.BytesIO(_picture()), size=len(_picture()))


def _picture() -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(kept, "PNG")
    return kept.getvalue()
