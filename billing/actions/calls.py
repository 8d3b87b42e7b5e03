"""A call taken to its end: customer, vehicle, place, job and price told, all or nothing."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

import jobs.actions as jobs
from billing.actions.quotations import tell_price
from billing.calls import END_REASONS, ENDED, THROWN_AWAY, CallFacts
from billing.pricing import PriceLine
from jobs.models import CallDraft, Job
from shop.customers import actions as customers
from shop.customers.models import Customer
from shop.errors import Refused
from shop.staff.models import Person
from vehicles import actions as vehicles
from vehicles.models import Vehicle
from vehicles.plates import search_form


@transaction.atomic
def take_priced_call(
    *,
    actor: Person,
    call: CallFacts,
    lines: Sequence[PriceLine],
    minutes: int = 60,
    key: UUID | None = None,
    at: datetime | None = None,
) -> Job:
    """Makes the job of a call, with customer, vehicle and address where they are new, and keeps the price told.

    `minutes` is the time the work is expected to take on site. The draft of `key` is dropped. Without lines no price
    was told.
    """
    moment = at or timezone.now()
    customer = call.customer or customers.add_customer(actor=actor, **call.new_customer)
    if call.new_address:
        customers.add_address(customer, actor=actor, **call.new_address)
    job = jobs.take_call(
        actor=actor,
        customer=customer,
        vehicle=call.vehicle or _vehicle_told(customer, call.new_vehicle, actor),
        called_at=moment,
        expected_minutes=minutes,
        **call.job,
    )
    if lines:
        tell_price(job, actor=actor, lines=lines, accepted_by=call.accepted_by, at=moment)
    if key:
        jobs.drop_draft(key, actor=actor)
    return job


def end_call(key: UUID, *, actor: Person, typed: dict[str, Any], reason: str) -> CallDraft:
    """Ends a call that became no job. What was typed is kept, so that it can be taken up when they call again."""
    if reason not in END_REASONS and reason != THROWN_AWAY:
        raise Refused("Why does this call end?", field="end_reason")
    return jobs.keep_draft(key, actor=actor, typed={**typed, ENDED: reason})


def _vehicle_told(customer: Customer, facts: dict[str, Any], actor: Person) -> Vehicle | None:
    """The vehicle as it was told: one the customer has already, by VIN or plate, or a new one."""
    if not facts:
        return None
    own = Vehicle.objects.filter(customer=customer)
    for told in ({"vin": facts.get("vin", "")}, {"plate_search": search_form(facts.get("plate", ""))}):
        known: Vehicle | None = own.filter(**told).first() if all(told.values()) else None
        if known:
            return known
    return vehicles.add_vehicle(actor=actor, customer=customer, **facts)
