"""Writes on what the whole shop shares."""

from typing import Any

from django.db import transaction

from shop.models import Counter, Shop


@transaction.atomic
def next_number(series: str) -> int:
    """The next number of a series, without gaps: the row stays locked until the caller's transaction ends."""
    Counter.objects.bulk_create([Counter(series=series)], ignore_conflicts=True)
    counter = Counter.objects.select_for_update().get(series=series)
    counter.last += 1
    counter.save(update_fields=["last"])
    return counter.last


@transaction.atomic
def change_shop(*, actor: Any, **facts: Any) -> Shop:
    """Changes the shop's facts and settings. The caller has checked them by form."""
    shop, _ = Shop.objects.select_for_update().get_or_create(id=Shop.SINGLE_ID)
    for name, value in facts.items():
        setattr(shop, name, value)
    shop.save(update_fields=list(facts))
    transaction.on_commit(Shop.forget)
    return shop
