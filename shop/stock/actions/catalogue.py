"""What the shop keeps, where, and from whom it buys."""

from collections.abc import Mapping
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.db.models import Model

from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item, Place, PlaceKind, Supplier

ITEM_FACTS = frozenset({"number", "name", "kind", "price", "tax_class", "supplier", "is_active"})
SUPPLIER_FACTS = frozenset({"name", "phone", "email", "lead_days"})
PLACE_FACTS = frozenset({"name", "kind", "driver"})
# Constraints of the tables, and what is said to whoever breaks them.
TAKEN = {
    "stock_item_number": ("Another item has this number.", "number"),
    "item_price_not_negative": ("A price is not below nothing.", "price"),
    "stock_supplier_name": ("Another supplier has this name.", "name"),
    "stock_place_name": ("Another place has this name.", "name"),
    "stock_place_driver": ("This person drives another van already.", "driver"),
}

Row = TypeVar("Row", bound=Model)


@transaction.atomic
def add_item(*, actor: Person | None, **facts: Any) -> Item:
    """Adds an item: number, name, kind, price (without tax), tax_class, supplier. Raises Refused for a number twice."""
    return _save(Item(), facts, ITEM_FACTS)


@transaction.atomic
def change_item(item: Item, *, actor: Person | None, **facts: Any) -> Item:
    """Changes an item. What was told or invoiced before keeps the price that it had."""
    return _save(_fresh(item), facts, ITEM_FACTS)


@transaction.atomic
def add_supplier(*, actor: Person | None, **facts: Any) -> Supplier:
    """Adds a supplier: name, phone (E.164), email, lead_days."""
    return _save(Supplier(), facts, SUPPLIER_FACTS)


@transaction.atomic
def change_supplier(supplier: Supplier, *, actor: Person | None, **facts: Any) -> Supplier:
    return _save(_fresh(supplier), facts, SUPPLIER_FACTS)


@transaction.atomic
def add_place(*, actor: Person | None, **facts: Any) -> Place:
    """Adds the shelf or a van: name, kind, driver. Raises Refused for somebody who drives another van."""
    return _save(Place(), _without_driver_of_shelf(facts), PLACE_FACTS)


@transaction.atomic
def change_place(place: Place, *, actor: Person | None, **facts: Any) -> Place:
    """Changes a place, or who drives a van. What is in it stays in it."""
    return _save(_fresh(place), _without_driver_of_shelf(facts), PLACE_FACTS)


def _fresh(row: Row) -> Row:
    kept: Row = type(row)._default_manager.select_for_update().get(pk=row.pk)
    return kept


def _without_driver_of_shelf(facts: Mapping[str, Any]) -> Mapping[str, Any]:
    driver = facts.get("driver")
    if facts.get("kind") == PlaceKind.SHELF and driver is not None:
        raise Refused("A shelf is not driven. Choose a van, or nobody.", field="driver")
    if driver is not None and not (driver.is_technician and driver.is_active):
        raise Refused(f"{driver.name} is not a technician at work here.", field="driver")
    return facts


def _save(row: Row, facts: Mapping[str, Any], allowed: frozenset[str]) -> Row:
    """Saves the facts; a constraint of the table decides a race, and is told in words."""
    unknown = facts.keys() - allowed
    if unknown:
        raise TypeError(f"{type(row).__name__} has no {', '.join(sorted(unknown))}.")
    for name, value in facts.items():
        setattr(row, name, value)
    try:
        with transaction.atomic():
            row.save(update_fields=list(facts) if row.pk else None)
    except IntegrityError as error:
        for constraint, (words, field) in TAKEN.items():
            if constraint in str(error):
                raise Refused(words, field=field) from error
        raise
    return row
