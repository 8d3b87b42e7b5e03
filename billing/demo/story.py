"""One job of the story, from the call to the payment, through the program's own actions."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from billing import actions as billing
from billing.demo import authority, words
from billing.demo.base import LABOUR, Cast
from billing.demo.crowd import point_in
from billing.models import Invoice, PaymentMethod
from billing.prices import distance_from_shop, point_of, propose_lines
from jobs import actions as jobs
from jobs.estimates import estimate_for
from jobs.models import Job, Payer, Visit
from jobs.states import JobState, KindOfWork
from shop.customers.models import Customer, CustomerKind
from shop.models import Shop
from shop.staff.models import Person
from shop.stock.models import Item, SpoiledReason
from vehicles.models import Vehicle

# What a car of each make takes when its key is made new: (plain trial blank, the key itself).
KEY_OF = {
    "Aldren": ("B-101", "T-310"),
    "Brixo": ("B-102", "T-320"),
    "Corvane": ("B-120", "T-330"),
    "Dunmark": ("B-102", "T-340"),
    "Elvara": ("B-120", "F-450"),
}

CAR_WORK = [
    (KindOfWork.LOCK_OUT, 34),
    (KindOfWork.ALL_KEYS_LOST, 19),
    (KindOfWork.DUPLICATE_KEY, 15),
    (KindOfWork.PROGRAMMING, 10),
    (KindOfWork.BROKEN_KEY, 7),
    (KindOfWork.IGNITION_LOCK, 5),
]
HOUSE_WORK = [(KindOfWork.DOOR_LOCK, 6), (KindOfWork.REKEY, 4)]

# How much longer the work takes on some makes and models, and with some people.
HARD_CARS = {"Corvane": 1.3, "Courier van": 1.75, "Elvara": 1.15, "Aldren": 0.85, "Tarn Estate": 1.4, "Kite": 0.8}
QUICK_HANDS = {"Jonas Brackwater": 0.85, "Priya Saltmarsh": 1.2}

SAYS = {
    KindOfWork.LOCK_OUT: [
        "Keys on the seat, doors locked themselves.",
        "Keys in the boot.",
        "Locked out at the shops.",
    ],
    KindOfWork.ALL_KEYS_LOST: ["Both keys went in the harbour.", "Bag stolen, no spare.", "No keys came with the car."],
    KindOfWork.DUPLICATE_KEY: ["Wants a second key.", "Bought with one key only."],
    KindOfWork.PROGRAMMING: ["Remote stopped after the cell was changed.", "Fob not seen any more."],
    KindOfWork.BROKEN_KEY: ["Key snapped in the door.", "Blade broke in the ignition."],
    KindOfWork.IGNITION_LOCK: ["Key turns only after wiggling.", "Ignition stuck in lock."],
    KindOfWork.DOOR_LOCK: ["Front door will not latch.", "New cylinder wanted after a break-in."],
    KindOfWork.REKEY: ["Tenant moved out, rekey front and back."],
    KindOfWork.OTHER: ["Safe door sticks."],
}


@dataclass
class Call:
    """What a call of the story is about, before it is a job."""

    at: datetime
    customer: Customer
    vehicle: Vehicle | None
    kind: KindOfWork
    wait: timedelta
    comeback_of: Job | None = None


def draw_call(rng: Random, at: datetime, customers: list[Customer], vehicles: list[Vehicle]) -> Call:
    """A call like those that a small shop gets: mostly cars, some doors, business customers more often."""
    kinds, weights = zip(*CAR_WORK, *HOUSE_WORK, strict=True)
    kind: KindOfWork = rng.choices(kinds, weights)[0]
    wait = timedelta(minutes=rng.choice([30, 45, 60, 60, 90, 120]))
    if kind in dict(HOUSE_WORK):
        return Call(at, rng.choice(customers), None, kind, wait)
    vehicle = rng.choice(vehicles)
    assert vehicle.customer
    return Call(at, vehicle.customer, vehicle, kind, wait)


def take(rng: Random, cast: Cast, call: Call, **facts: object) -> Job:
    """The office takes the call, tells the price and promises a time."""
    district = rng.choice(list(words.DISTRICTS))
    latitude, longitude = point_in(rng, district)
    is_account = call.customer.kind == CustomerKind.ACCOUNT
    actor = rng.choice(cast.office)
    job = jobs.take_call(
        actor=actor,
        customer=call.customer,
        vehicle=call.vehicle,
        kind_of_work=call.kind,
        called_at=call.at,
        caller_name=call.customer.contact_name or call.customer.name,
        caller_phone=call.customer.phones.all()[0].number,
        description=rng.choice(SAYS[call.kind]),
        owner_name=call.customer.name,
        proof_offered=rng.choice(["Registration in the glovebox", "Driver's licence", "Tenancy letter", ""]),
        payer=Payer.ACCOUNT if is_account else Payer.CALLER,
        purchase_order=f"PO-{rng.randint(1000, 9999)}" if is_account else "",
        street=f"{rng.randint(1, 90)} {rng.choice(words.STREETS)}",
        town=f"{district}, {words.TOWN}",
        access_notes=rng.choice(words.ACCESS_NOTES),
        latitude=latitude,
        longitude=longitude,
        promise_from=call.at + call.wait,
        promise_until=call.at + call.wait + timedelta(minutes=60),
        expected_minutes=_expected(call),
        comeback_of=call.comeback_of,
        **facts,
    )
    _tell(cast, job, actor, call)
    return job


def _expected(call: Call) -> int:
    """What the office expects: what the shop has learned, before its first night what the price book says."""
    estimate = estimate_for(call.kind, vehicle=call.vehicle)
    return estimate.minutes if estimate else LABOUR[call.kind][1]


def _tell(cast: Cast, job: Job, actor: Person, call: Call) -> None:
    items = [(cast.items[number], 1) for number, is_charged in needs(call) if is_charged]
    lines = propose_lines(kind_of_work=job.kind_of_work, point=point_of(job), at=call.at, items=items)
    billing.tell_price(job, actor=actor, lines=lines, accepted_by=job.caller_name, at=call.at)


def needs(call: Call) -> list[tuple[str, bool]]:
    """Items that the work takes: number, and whether the customer pays for it (the trial key is ours)."""
    if call.kind == KindOfWork.DOOR_LOCK:
        return [("L-610", True)]
    if call.kind == KindOfWork.REKEY:
        return [("L-630", True), ("B-201", True)]
    if call.vehicle is None or call.kind == KindOfWork.LOCK_OUT:
        return []
    trial, key = KEY_OF[call.vehicle.make]
    if call.kind == KindOfWork.ALL_KEYS_LOST:
        return [(trial, False), (key, True)]
    if call.kind in {KindOfWork.DUPLICATE_KEY, KindOfWork.BROKEN_KEY}:
        return [(key, True)]
    if call.kind == KindOfWork.IGNITION_LOCK and call.vehicle.make == "Brixo":
        return [("L-620", True)]
    return [("C-032", True)] if call.kind == KindOfWork.PROGRAMMING else []


def minutes_on_site(rng: Random, call: Call, person: Person) -> int:
    """How long the work takes: right-skewed round the usual time, longer on some cars and with some people."""
    vehicle = call.vehicle
    car = HARD_CARS.get(vehicle.model, HARD_CARS.get(vehicle.make, 1.0)) if vehicle else 0.9
    hands = QUICK_HANDS.get(person.name, 1.0)
    return max(8, round(LABOUR[call.kind][1] * car * hands * rng.gammavariate(9, 0.105)))


def work(
    rng: Random, cast: Cast, job: Job, call: Call, visit: Visit, *, start: datetime, drive: int, on_site: int
) -> None:
    """The technician drives, works, books the parts and finishes."""
    person = visit.technician
    arrived = start + timedelta(minutes=drive)
    jobs.set_off(visit, actor=person, at=start)
    jobs.arrive(visit, actor=person, at=arrived)
    authority.check(job, visit, cast.owner, at=arrived + timedelta(minutes=min(3, on_site // 3)))
    use_parts(rng, cast, job, call, visit, at=arrived + timedelta(minutes=on_site // 2))
    if rng.random() < 0.5:
        jobs.add_note(job, actor=person, visit=visit, words="All keys tried, owner shown.", at=arrived)
    away = distance_from_shop(Shop.current(), point_of(job))
    driven = None if away is None else 2 * away
    jobs.finish_visit(visit, actor=person, at=arrived + timedelta(minutes=on_site), drive_km=driven)


def use_parts(rng: Random, cast: Cast, job: Job, call: Call, visit: Visit, *, at: datetime) -> None:
    """Books what was used, and now and then what was spoiled on the way."""
    van = cast.vans[visit.technician_id]
    for number, is_charged in needs(call):
        item: Item = cast.items[number]
        if not is_charged:
            jobs.spoil_part(
                job, actor=visit.technician, item=item, quantity=1, place=van, visit=visit,
                reason=SpoiledReason.TRIAL, at=at,
            )  # fmt: skip
            continue
        if rng.random() < 0.06:
            reason = SpoiledReason.NOT_PROGRAMMED if item.number[0] in "TF" else SpoiledReason.MISCUT
            jobs.spoil_part(
                job, actor=visit.technician, item=item, quantity=1, place=van, visit=visit, reason=reason, at=at
            )
        jobs.use_part(job, actor=visit.technician, item=item, quantity=1, place=van, visit=visit, at=at)


def bill(rng: Random, cast: Cast, job: Job, *, at: datetime) -> Invoice:
    """The invoice, and the payment where the customer pays on the spot or has paid since."""
    invoice = billing.issue_invoice(billing.draft_invoice(job, actor=cast.owner), actor=rng.choice(cast.office), at=at)
    paid_at = _paid_at(rng, cast, job, invoice, at)
    if paid_at and invoice.total > 0:
        method = PaymentMethod.TRANSFER if job.payer == Payer.ACCOUNT else _method(rng)
        billing.record_payment(invoice, actor=cast.owner, method=method, amount=invoice.total, at=paid_at)
    return invoice


def _paid_at(rng: Random, cast: Cast, job: Job, invoice: Invoice, at: datetime) -> datetime | None:
    if job.payer != Payer.ACCOUNT:
        return at + timedelta(minutes=2)
    late = 34 if job.customer.name == words.LATE_PAYER else rng.randint(-6, 4)
    paid = at + timedelta(days=job.customer.terms_days + late)
    return paid if paid < cast.now else None


def _method(rng: Random) -> PaymentMethod:
    return rng.choices([PaymentMethod.CARD, PaymentMethod.CASH, PaymentMethod.CHEQUE], [70, 27, 3])[0]


def close(rng: Random, cast: Cast, job: Job, at: datetime) -> None:
    """A job that came to nothing."""
    state, reason = rng.choice(
        [
            (JobState.CALLED_OFF, "Found the spare key."),
            (JobState.CALLED_OFF, "Too dear, will wait."),
            (JobState.NO_ANSWER, "Nobody there, phone off."),
            (JobState.TURNED_AWAY, "Papers did not match the vehicle."),
        ]
    )
    jobs.close_job(job, actor=rng.choice(cast.office), state=state, reason=reason, at=at)
