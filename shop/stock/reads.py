"""What the pages of stock show: a page of items with their places, and one item with its ledger."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shop.models import Shop
from shop.money import minor_units
from shop.stock.models import Balance, CostLayer, Item, Movement, Place
from shop.stock.querysets import ItemQuerySet

PAGE = 50
SHOWN = {"": "In use", "below": "Below nothing", "held": "There are some", "off": "No longer in use"}


@dataclass(slots=True)
class Row:
    """An item with what the books hold at each of the places, in their order (None: never any)."""

    item: Item
    quantities: list[int | None]

    @property
    def is_below(self) -> bool:
        return any(quantity is not None and quantity < 0 for quantity in self.quantities)


@dataclass(slots=True)
class ItemPage:
    """One page of the list. `after` begins the next page; `value` is what all stock cost, for the owner."""

    places: list[Place]
    rows: list[Row]
    after: str
    value: Decimal | None


def chosen(shown: str, text: str) -> ItemQuerySet:
    """The items of one choice of the list, that match what was typed."""
    items: ItemQuerySet = Item.objects.matching(text)
    if shown == "off":
        return items.filter(is_active=False)
    if shown == "below":
        return items.below_nothing()
    if shown == "held":
        return items.filter(balances__quantity__gt=0).distinct()
    return items.active()


def page_of_items(items: ItemQuerySet, *, after: str, with_value: bool) -> ItemPage:
    """The page after an item's number, in the order of numbers."""
    digits = minor_units(Shop.current().currency)
    items = items.with_quantities().order_by("number")
    if with_value:
        items = items.with_value(digits)
    if after:
        items = items.filter(number__gt=after)
    places = list(Place.objects.order_by("kind", "name"))
    found = list(items[: PAGE + 1])
    rows = [Row(item, _quantities(item, places)) for item in found[:PAGE]]
    value = CostLayer.objects.value(digits) if with_value else None
    return ItemPage(places, rows, rows[-1].item.number if len(found) > PAGE else "", value)


def _quantities(item: Any, places: Sequence[Place]) -> list[int | None]:
    held = {balance.place_id: balance.quantity for balance in item.balances.all()}
    return [held.get(place.pk) for place in places]


def fine_cost(cost: Decimal, currency: str) -> str:
    """The cost of one, with more decimals than the currency has only where they say something."""
    digits = minor_units(currency)
    exponent = cost.normalize().as_tuple().exponent
    return f"{cost:,.{max(digits, -exponent if isinstance(exponent, int) else 0)}f} {currency}"


def ledger_of(item: Item, *, before: int | None, size: int = PAGE) -> tuple[list[Movement], int | None]:
    """The youngest movements of an item, and the id before which the next page lies."""
    movements = Movement.objects.filter(item=item).select_related("place", "by").order_by("-pk")
    if before:
        movements = movements.filter(pk__lt=before)
    found = list(movements[: size + 1])
    return found[:size], found[size - 1].pk if len(found) > size else None


def layers_of(item: Item) -> list[Any]:
    """Receipts of which something is left, oldest first, each with what its rest cost (`left_cost`)."""
    digits = minor_units(Shop.current().currency)
    return list(CostLayer.objects.filter(item=item).open().with_left_cost(digits).order_by("at", "id"))


def van_lines(van: Place, text: str) -> list[Balance]:
    """What the books say is in a van, by name; what has run out stays in the list, so that it can be counted in."""
    balances = Balance.objects.filter(place=van, item__in=Item.objects.active().matching(text))
    return list(balances.select_related("item").order_by("item__name", "item__number"))
