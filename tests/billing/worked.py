"""Finished jobs, as a technician leaves them: price told, visit worked, parts used."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from billing import actions as billing
from billing.models import Invoice
from billing.prices import BookLine
from jobs import actions as jobs
from jobs.models import Job, Visit
from jobs.states import KindOfWork
from shop.staff.models import Person
from shop.stock import actions as stock
from shop.stock.models import Item, Place, PlaceKind
from tests import cast
from tests.billing import make
from vehicles.actions import add_vehicle
from vehicles.models import Vehicle

D = Decimal
# A VIN of 49 CFR 565.15's own worked example of the check digit.
VIN = "1M8GDM9AXKP042788"


def line(price: str = "80.00", text: str = "Opening the car", **facts: Any) -> BookLine:
    """One line of a price told."""
    usual = {"kind": "labour", "quantity": D(1), "tax_class": "labour", "reason": ""}
    return BookLine(**{**usual, "text": text, "unit_price": D(price), **facts})


def sold(item: Item, quantity: int = 1) -> BookLine:
    """The line that sells an item at its price."""
    return line(str(item.price), item.name, kind="item", tax_class="parts", quantity=D(quantity), item_id=item.pk)


def van(of: Person, name: str = "Van 1") -> Place:
    return Place.objects.create(name=f"{name} {of.pk}", kind=PlaceKind.VAN, driver=of)


def stocked(place: Place, cost: str = "12.40", quantity: int = 20, number: str = "TB-100", **facts: Any) -> Item:
    """An item of which a van holds some, at one cost."""
    item = make.item(number, **facts)
    stock.receive(item, actor=None, place=place, quantity=quantity, unit_cost=D(cost))
    return item


def vehicle(job_customer: Any, vin: str = VIN) -> Vehicle:
    return add_vehicle(
        actor=None,
        customer=job_customer,
        plate="KLM 204",
        vin=vin,
        year=2019,
        make="Corvane",
        model="Estate 5",
        colour="blue",
    )


def visit_on_site(job: Job, by: Person, *, start: datetime = make.NOON) -> Visit:
    """Set off at `start`, arrived 20 minutes after."""
    visit = jobs.book_visit(job, actor=by, technician=by, start=start, end=start + timedelta(hours=1))
    visit = jobs.set_off(visit, actor=by, at=start)
    return jobs.arrive(visit, actor=by, at=start + timedelta(minutes=20))


def finished(
    by: Person | None = None,
    *,
    told: Sequence[BookLine] = (),
    accepted_by: str = "Ada Vermeer",
    used: Sequence[tuple[Item, int]] = (),
    spoiled: Sequence[tuple[Item, int]] = (),
    place: Place | None = None,
    start: datetime = make.NOON,
    drive_km: str | None = None,
    of: Any = None,
    **facts: Any,
) -> Job:
    """A job worked to its end: 20 minutes on the road and 40 on site."""
    by = by or cast.technician(hourly_cost=D("36.00"))
    job = make.job(of or make.customer(), **{"kind_of_work": KindOfWork.LOCK_OUT, "called_at": start, **facts})
    if told:
        billing.tell_price(job, actor=None, lines=told, accepted_by=accepted_by, at=start)
    visit = visit_on_site(job, by, start=start)
    for item, quantity in used:
        jobs.use_part(job, actor=by, item=item, quantity=quantity, place=place or _van_of(by), visit=visit)
    for item, quantity in spoiled:
        spot = place or _van_of(by)
        jobs.spoil_part(job, actor=by, item=item, quantity=quantity, place=spot, reason="miscut", visit=visit)
    km = D(drive_km) if drive_km else None
    visit = jobs.finish_visit(visit, actor=by, at=start + timedelta(minutes=60), drive_km=km)
    return visit.job


def issued(job: Job | None = None, *, at: datetime = make.NOON + timedelta(hours=2)) -> Invoice:
    """An issued invoice of 84.00: 80.00 and 5 % of labour tax."""
    job = job or finished(told=[line()])
    return billing.issue_invoice(billing.draft_invoice(job, actor=None), actor=None, at=at)


def _van_of(person: Person) -> Place:
    return Place.objects.get(driver=person)
