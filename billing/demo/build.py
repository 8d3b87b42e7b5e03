"""Builds the whole demo in one transaction: all of it or nothing."""

from datetime import datetime, timedelta
from random import Random

from django.db import transaction
from django.utils import timezone

from billing.actions.waiting import left_to_sweep
from billing.demo import history, today
from billing.demo.base import Cast, build_shop
from billing.demo.crowd import build_crowd
from billing.demo.procedures import tell_procedures
from billing.prices import usual_minutes
from jobs.actions import store_estimates
from jobs.estimates import FROM_HOUR
from vehicles.demo_data import add_demo_key_systems
from vehicles.demo_families import add_demo_families

SEED = 417


@transaction.atomic
def build(now: datetime) -> None:
    """The invented shop with 90 days behind it, today half done. The same for the same `now`."""
    rng = Random(SEED)
    with left_to_sweep():
        _tell(rng, now)


def _tell(rng: Random, now: datetime) -> None:
    cast = build_shop(rng, now)
    _know(cast)
    customers, vehicles = build_crowd(rng, cast.office[0])
    history.tell(rng, cast, customers, vehicles)
    tell_procedures()
    store_estimates(usual=usual_minutes(), at=_last_night(now))
    today.tell(rng, cast, customers, vehicles)


def _know(cast: Cast) -> None:
    """What the shop knows of keys and vehicles, as it stood 94 days ago."""
    at = cast.now - timedelta(days=94)
    add_demo_key_systems(cast.owner, at=at)
    add_demo_families(cast.owner, author=cast.technicians[0], at=at)


def _last_night(now: datetime) -> datetime:
    """When the night before `now` learned of times; then nothing is due before the next."""
    local = timezone.localtime(now)
    return min(now, local.replace(hour=FROM_HOUR, minute=0, second=0, microsecond=0))
