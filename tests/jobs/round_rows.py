"""Jobs and visits to test the phone with, made through the actions."""

from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from jobs.actions import book_visit, take_call
from jobs.models import Visit
from jobs.states import KindOfWork
from shop.customers.actions import add_customer
from shop.staff.models import Person
from vehicles.actions import add_vehicle

PHONE = "+12015550123"


def at(hours: float) -> datetime:
    """So many hours from now, on the full minute."""
    return timezone.now().replace(second=0, microsecond=0) + timedelta(hours=hours)


def visit_of(person: Person, *, hours: float = 1, minutes: int = 45, **facts: Any) -> Visit:
    """A booked visit of a technician: a lock-out of a car, unless told otherwise."""
    customer = add_customer(actor=None, name=facts.pop("name", "Ella Holmere"), phones=[(PHONE, "")])
    with_vehicle = facts.pop("with_vehicle", True)
    vehicle = (
        add_vehicle(actor=None, customer=customer, plate="KLM 204", make="Merrow", model="Tern", year=2016)
        if with_vehicle
        else None
    )
    told = {
        "kind_of_work": KindOfWork.LOCK_OUT,
        "caller_name": "Ella",
        "caller_phone": PHONE,
        "street": "14 Mill Lane",
        "town": "Saltby",
        "description": "Keys on the seat.",
        **facts,
    }
    job = take_call(actor=None, customer=customer, vehicle=vehicle, **told)
    start = at(hours)
    return book_visit(job, actor=None, technician=person, start=start, end=start + timedelta(minutes=minutes))
