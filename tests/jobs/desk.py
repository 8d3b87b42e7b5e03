"""What the tests of the office's desk stand on: a quiet Tuesday in UTC, people on shift, waiting calls."""

from datetime import datetime, time, timedelta
from typing import Any

from jobs import actions as jobs
from jobs.models import Job, Visit
from jobs.states import KindOfWork
from shop.actions import change_shop
from shop.customers.actions import add_customer
from shop.models import Shop
from shop.staff.actions import set_week
from shop.staff.models import Person
from tests import cast

MINUTE = timedelta(minutes=1)
EVERY_DAY = {weekday: (time(8), time(17)) for weekday in range(7)}


def at(clock: str, day: str = "2026-03-03") -> datetime:
    """A time of the Tuesday, in UTC."""
    return datetime.fromisoformat(f"{day}T{clock}:00+00:00")


def shop(**facts: Any) -> None:
    Shop.forget()
    change_shop(actor=None, **{"time_zone": "UTC", "day_starts": time(7), "day_ends": time(20), **facts})
    Shop.forget()


def on_shift(**facts: Any) -> Person:
    """A technician who works from eight to five on every day."""
    someone = cast.technician(**facts)
    set_week(someone, actor=None, shifts=EVERY_DAY)
    return someone


def call(**facts: Any) -> Job:
    """A waiting job of a customer of its own."""
    customer = facts.pop("customer", None) or add_customer(actor=None, name=facts.pop("name", "Ada Vermeer"))
    usual = {"kind_of_work": KindOfWork.LOCK_OUT, "called_at": at("07:00")}
    return jobs.take_call(actor=None, customer=customer, **{**usual, **facts})


def booked(technician: Person, start: datetime, minutes: int = 60, **facts: Any) -> Visit:
    """A visit of a new job."""
    job = facts.pop("job", None) or call(**facts)
    return jobs.book_visit(job, actor=None, technician=technician, start=start, end=start + minutes * MINUTE)
