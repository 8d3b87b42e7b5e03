"""Items used and spoiled on a job, counted against a van or the shelf."""

from datetime import datetime

from django.db import transaction

from jobs.actions.base import lock_job
from jobs.errors import WrongState
from jobs.models import Job, PartUse, Visit
from jobs.states import CLOSED_UNDONE
from shop.errors import Refused
from shop.staff.models import Person
from shop.stock import actions as stock
from shop.stock.models import Item, Movement, Place, SpoiledReason


@transaction.atomic
def use_part(
    job: Job,
    *,
    actor: Person | None,
    item: Item,
    quantity: int,
    place: Place,
    visit: Visit | None = None,
    is_charged: bool = True,
    at: datetime | None = None,
) -> PartUse:
    """Takes an item from a place for a job. Raises Refused for less than one."""
    _check_open_for_parts(job)
    movement = stock.use(item, actor=actor, place=place, quantity=quantity, at=at, note=f"Job {job.number}")
    return _keep(job, visit, movement, quantity, is_charged)


@transaction.atomic
def spoil_part(
    job: Job,
    *,
    actor: Person | None,
    item: Item,
    quantity: int,
    place: Place,
    reason: SpoiledReason | str,
    visit: Visit | None = None,
    at: datetime | None = None,
    note: str = "",
) -> PartUse:
    """An item used up without becoming a key for the customer: it costs the job, and is not charged."""
    _check_open_for_parts(job)
    note = f"Job {job.number}. {note}".removesuffix(". ")[:200]
    movement = stock.spoil(item, actor=actor, place=place, quantity=quantity, reason=reason, at=at, note=note)
    return _keep(job, visit, movement, quantity, is_charged=False)


@transaction.atomic
def take_back_part(part: PartUse, *, actor: Person | None, at: datetime | None = None) -> PartUse:
    """Undoes a use: the item goes back to where it came from, at the cost at which it left."""
    locked: PartUse = PartUse.objects.select_for_update(of=("self",)).select_related("movement").get(pk=part.pk)
    if locked.taken_back_id:
        raise Refused("This was taken back already.")
    locked.taken_back = stock.take_back(locked.movement, actor=actor, at=at)
    locked.save(update_fields=["taken_back"])
    return locked


def _check_open_for_parts(job: Job) -> None:
    locked = lock_job(job)
    if locked.state in CLOSED_UNDONE:
        raise WrongState(f"Job {locked.number} is {locked.get_state_display().lower()}.")


def _keep(job: Job, visit: Visit | None, movement: Movement, quantity: int, is_charged: bool) -> PartUse:
    return PartUse.objects.create(
        job=job, visit=visit, item=movement.item, quantity=quantity, is_charged=is_charged, movement=movement
    )
