"""Changes of the price book. Prices already told and invoices already issued keep theirs."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from billing.errors import PriceBookFault
from billing.models import CallOutBand, LabourPrice, PriceBook, TaxRate
from jobs.states import KindOfWork
from shop.staff.models import Person


@transaction.atomic
def set_call_out_bands(*, actor: Person | None, bands: Sequence[tuple[Decimal, Decimal]]) -> list[CallOutBand]:
    """Writes the bands anew: (up to km, price), going outward. Raises PriceBookFault."""
    _lock_book()
    for (inner, _), (outer, _) in pairwise(bands):
        if outer <= inner:
            raise PriceBookFault(f"The band up to {outer} km must go beyond {inner} km.")
    if any(km <= 0 for km, _ in bands):
        raise PriceBookFault("A band reaches farther than the door of the shop.")
    _check_prices(price for _, price in bands)
    CallOutBand.objects.all().delete()
    return CallOutBand.objects.bulk_create(CallOutBand(up_to_km=km, price=price) for km, price in bands)


@transaction.atomic
def set_labour_prices(
    *, actor: Person | None, prices: Mapping[KindOfWork, tuple[Decimal, int] | None]
) -> list[LabourPrice]:
    """Writes price and usual minutes of the kinds of work given; None takes one out of the book."""
    _lock_book()
    given = {kind: told for kind, told in prices.items() if told}
    _check_prices(price for price, _ in given.values())
    if any(minutes < 5 for _, minutes in given.values()):
        raise PriceBookFault("Work takes at least five minutes.")
    LabourPrice.objects.filter(kind_of_work__in=set(prices) - set(given)).delete()
    return [
        LabourPrice.objects.update_or_create(kind_of_work=kind, defaults={"price": price, "minutes": minutes})[0]
        for kind, (price, minutes) in given.items()
    ]


@transaction.atomic
def change_price_book(*, actor: Person | None, **facts: Any) -> PriceBook:
    """Changes the hours that cost more, and what they cost."""
    book = _lock_book()
    for name, value in facts.items():
        setattr(book, name, value)
    if book.after_hours_from == book.after_hours_until:
        raise PriceBookFault("After hours must end at another time than they begin.", field="after_hours_until")
    _check_prices([book.after_hours_price])
    book.save(update_fields=list(facts))
    return book


@transaction.atomic
def add_tax_rate(*, actor: Person | None, tax_class: str, name: str, percent: Decimal, holds_from: date) -> TaxRate:
    """Adds a rate of one class from a day on. Raises PriceBookFault when that class has another from that day."""
    if percent < 0:
        raise PriceBookFault("A tax rate is not below nothing.", field="percent")
    try:
        with transaction.atomic():
            return TaxRate.objects.create(tax_class=tax_class, name=name, percent=percent, holds_from=holds_from)
    except IntegrityError as error:
        raise PriceBookFault(f"Another rate on “{tax_class}” begins on that day.", field="holds_from") from error


@transaction.atomic
def remove_tax_rate(rate: TaxRate, *, actor: Person | None, today: date | None = None) -> None:
    """Takes a rate back that does not hold yet. One that has held stays: prices were told with it."""
    if rate.holds_from < (today or timezone.localdate()):
        raise PriceBookFault("This rate has held already. Add another from the day on which it changes.")
    rate.delete()


def _lock_book() -> PriceBook:
    PriceBook.objects.bulk_create([PriceBook(id=PriceBook.SINGLE_ID)], ignore_conflicts=True)
    return PriceBook.objects.select_for_update().get(id=PriceBook.SINGLE_ID)


def _check_prices(prices: Any) -> None:
    if any(price < 0 for price in prices):
        raise PriceBookFault("A price is not below nothing.")
