"""Items and places to test with, made through the actions."""

from decimal import Decimal
from itertools import count
from typing import Any

from shop.staff.models import Person
from shop.stock.actions import add_item, add_place, add_supplier
from shop.stock.models import Item, ItemKind, Place, PlaceKind, Supplier

_numbers = count(1)


def item(**facts: Any) -> Item:
    number = f"T-{next(_numbers):04}"
    named = {"number": number, "name": f"Blank {number}", "kind": ItemKind.BLANK, "price": Decimal("9.50"), **facts}
    return add_item(actor=None, **named)


def shelf(name: str = "Shelf") -> Place:
    return add_place(actor=None, name=name, kind=PlaceKind.SHELF, driver=None)


def van(name: str = "Van 1", driver: Person | None = None) -> Place:
    return add_place(actor=None, name=name, kind=PlaceKind.VAN, driver=driver)


def supplier(name: str = "Quayside Key Supply") -> Supplier:
    return add_supplier(actor=None, name=name, phone="", email="", lead_days=3)
