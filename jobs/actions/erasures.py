"""A customer is erased as far as no duty stands against it; the nights do the rest."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.actions.holds import check_owner, words_of
from jobs.models import Erasure, Job, KeepingTimes
from shop.customers.actions import ERASED
from shop.customers.models import Customer
from shop.errors import Refused
from shop.keeping.days import begins, years_before
from shop.keeping.rooms import Duty, Spared, rooms
from shop.staff.models import Person


def duties_of(customer: Customer, on: date) -> list[Duty]:
    """Every duty to keep something of this customer on a day, by all apps; those without a last day first."""
    found = [duty for room in rooms() for duty in room.duties(customer, on)]
    return sorted(found, key=lambda duty: (duty.until is not None, duty.until or on))


@transaction.atomic
def erase_customer(customer: Customer, *, actor: Person, reason: str, on: date | None = None) -> Erasure:
    """Makes a customer anonymous. What a duty keeps stays and goes in the night after its last day.

    Raises Refused while something keeps the customer as a whole, and when it was asked before.
    """
    check_owner(actor)
    day = on or timezone.localdate()
    locked = Customer.objects.select_for_update().get(pk=customer.pk)
    if Erasure.objects.filter(customer=locked, done_at__isnull=True).exists():
        raise Refused("Erasing this customer is under way; the rest goes when its duty ends.")
    if against := [duty.words for duty in duties_of(locked, day) if duty.keeps_all]:
        raise Refused(" ".join(against))
    return _go_on(Erasure.objects.create(customer=locked, reason=words_of(reason), asked_by=actor), day)


@transaction.atomic
def go_on_erasing(day: date) -> int:
    """Erases what no duty keeps any more, of customers whose erasing is under way and of those nobody has dealt with
    since the money years; returns for how many something went."""
    moved = 0
    for erasure in open_erasures(day):
        before = len(erasure.done)
        moved += len(_go_on(erasure, day).done) > before
    for customer in forgotten_customers(day):
        words = f"Nobody has dealt with this customer for {KeepingTimes.current().money_years} years"
        moved += bool(_go_on(Erasure.objects.create(customer=customer, reason=words), day).done)
    return moved


def due_to_erase(day: date) -> int:
    """For how many customers something would go on this day."""
    moves = 0
    for erasure in open_erasures(day):
        moves += not duties_of(erasure.customer, day)
    return moves + len(forgotten_customers(day))


def open_erasures(day: date) -> Any:
    return Erasure.objects.filter(done_at__isnull=True).select_related("customer").order_by("pk")


def forgotten_customers(day: date) -> list[Customer]:
    """Customers whose last job is older than the money years and whom no duty keeps."""
    oldest = begins(years_before(day, KeepingTimes.current().money_years))
    recent = Job.objects.filter(called_at__gte=oldest).values("customer")
    rest = Customer.objects.filter(created_at__lt=oldest).exclude(name=ERASED).exclude(pk__in=recent)
    rest = rest.exclude(erasures__done_at__isnull=True, erasures__isnull=False)
    return [customer for customer in rest if not duties_of(customer, day)]


def _go_on(erasure: Erasure, day: date) -> Erasure:
    customer = erasure.customer
    duties = duties_of(customer, day)
    if any(duty.keeps_all for duty in duties):
        return erasure
    kept = frozenset(duty.job for duty in duties if duty.job is not None)
    of_kept = Job.objects.filter(pk__in=kept, vehicle__isnull=False).values_list("vehicle", flat=True)
    spared = Spared(jobs=kept, vehicles=frozenset(of_kept))
    words = [each for room in rooms() for each in room.erase(customer, day, spared)]
    if words:
        erasure.done = [*erasure.done, {"on": day.isoformat(), "words": words}]
    if not duties:
        erasure.done_at = timezone.now()
    erasure.save(update_fields=["done", "done_at"])
    return erasure
