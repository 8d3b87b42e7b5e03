"""The end of a visit: finish, draft, and the keys handed over."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

import jobs.actions as jobs
from billing.actions.invoices import draft_invoice
from billing.models import Invoice, Quotation
from jobs.actions.base import lock_job, record
from jobs.errors import WrongState
from jobs.models import EventKind, Job, JobEvent, Visit
from jobs.record_rules import Fact
from shop.errors import Refused
from shop.staff.models import Person

HANDED_OVER = "handed_over"


@transaction.atomic
def finish_and_draft(
    visit: Visit,
    *,
    actor: Person | None,
    set_off_at: datetime | None,
    arrived_at: datetime,
    finished_at: datetime,
    words: str = "",
    vin: str = "",
    needs_another_visit: bool = False,
    drive_km: Decimal | None = None,
) -> Invoice | None:
    """Finishes a visit at the times given and draws up the invoice; none while another visit is needed.

    Raises Refused for times out of order or a visit that is not on site, and AuthorityLacks while the record rule
    wants something.
    """
    if vin:
        jobs.record_vin(visit.job, actor=actor, vin=vin, visit=visit)
    if (visit.set_off_at, visit.arrived_at) != (set_off_at, arrived_at):
        visit = jobs.correct_times(
            visit, actor=actor, set_off_at=set_off_at, arrived_at=arrived_at, finished_at=None, reason="At the finish."
        )
    done = jobs.finish_visit(
        visit,
        actor=actor,
        at=finished_at,
        needs_another_visit=needs_another_visit,
        words=words.strip(),
        drive_km=drive_km,
        known=facts_of_money(visit.job),
    )
    return None if needs_another_visit else draft_invoice(done.job, actor=actor)


def facts_of_money(job: Job) -> frozenset[Fact]:
    """What record rules ask of the money: that a price was told and accepted before the work."""
    told: Quotation | None = Quotation.objects.standing_of(job)
    return frozenset({Fact.PRICE_TOLD}) if told and told.accepted_at else frozenset()


@transaction.atomic
def hand_over(
    job: Job, *, actor: Person | None, keys: int, is_shown_to_work: bool, words: str = "", at: datetime | None = None
) -> JobEvent:
    """Records that the keys were counted into the customer's hand and every key and function shown to work."""
    if keys < 0:
        raise Refused("The number of keys is not below nothing.", field="keys")
    if not is_shown_to_work and not words.strip():
        raise Refused("Say what could not be shown to work, and why.", field="words")
    locked = lock_job(job)
    if locked.is_open:
        raise WrongState(f"Job {locked.number} is not finished yet.")
    shown = "every key and function shown to work" if is_shown_to_work else "not everything shown to work"
    told = f"Handed over: {_counted(keys)}, {shown}. {words}".strip()
    details: dict[str, Any] = {HANDED_OVER: {"keys": keys, "is_shown_to_work": is_shown_to_work}}
    return record(locked, EventKind.NOTE, actor=actor, at=at, words=told, details=details)


def handed_over(job: Job) -> JobEvent | None:
    """The last record of a handover on this job."""
    return JobEvent.objects.filter(job=job, kind=EventKind.NOTE, details__has_key=HANDED_OVER).last()


def _counted(keys: int) -> str:
    return {0: "no key", 1: "1 key"}.get(keys, f"{keys} keys")
