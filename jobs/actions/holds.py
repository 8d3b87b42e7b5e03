"""Holds are added and lifted, and the shop's own times of keeping set; by the owner."""

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.models import Hold, HoldLift, Job, KeepingTimes
from shop.customers.models import Customer
from shop.errors import Refused
from shop.staff.models import Person
from shop.staff.roles import Role

LONGEST = 300


@transaction.atomic
def add_hold(
    on: Job | Customer,
    *,
    actor: Person,
    kind: Hold.Kind | str,
    reason: str,
    until: date | None = None,
    at: datetime | None = None,
) -> Hold:
    """Nothing of this job or customer is deleted until the end of day `until`, or until the hold is lifted."""
    check_owner(actor)
    moment = at or timezone.now()
    if until and until < timezone.localdate(moment):
        raise Refused("A hold ends today or later.", field="until")
    where = {"job": on} if isinstance(on, Job) else {"customer": on}
    return Hold.objects.create(
        kind=Hold.Kind(kind), reason=words_of(reason), until=until, added_by=actor, added_at=moment, **where
    )


@transaction.atomic
def lift_hold(hold: Hold, *, actor: Person, reason: str, at: datetime | None = None) -> HoldLift:
    """The hold ends now; what is due goes the next night. Raises Refused for one that was lifted before."""
    check_owner(actor)
    try:
        with transaction.atomic():
            return HoldLift.objects.create(
                hold=hold, reason=words_of(reason), lifted_by=actor, lifted_at=at or timezone.now()
            )
    except IntegrityError:
        raise Refused("This hold was lifted already.") from None


@transaction.atomic
def set_times(*, actor: Person, money_years: int, photo_years: int) -> KeepingTimes:
    """How many years money records and photos of jobs are kept."""
    check_owner(actor)
    KeepingTimes.current()
    times = KeepingTimes.objects.select_for_update().get(pk=KeepingTimes.SINGLE_ID)
    times.money_years, times.photo_years = money_years, photo_years
    times.save(update_fields=["money_years", "photo_years"])
    return times


def check_owner(actor: Person) -> None:
    if Role.OWNER not in actor.roles:
        raise Refused("Only the owner decides about keeping.")


def words_of(text: str) -> str:
    """A reason on one line. Raises Refused for one that says nothing."""
    words = " ".join(text.split())
    if len(words) < 3:
        raise Refused("Say why, in a few words.", field="reason")
    return words[:LONGEST]
