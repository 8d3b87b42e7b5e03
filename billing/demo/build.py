"""Builds the whole demo in one transaction: all of it or nothing."""

from datetime import datetime
from random import Random

from django.db import transaction

from billing.actions.waiting import left_to_sweep
from billing.demo import history, today
from billing.demo.base import build_shop
from billing.demo.crowd import build_crowd

SEED = 417


@transaction.atomic
def build(now: datetime) -> None:
    """The invented shop with 90 days behind it, today half done. The same for the same `now`."""
    rng = Random(SEED)
    with left_to_sweep():
        _tell(rng, now)


def _tell(rng: Random, now: datetime) -> None:
    cast = build_shop(rng, now)
    customers, vehicles = build_crowd(rng, cast.office[0])
    history.tell(rng, cast, customers, vehicles)
    today.tell(rng, cast, customers, vehicles)
