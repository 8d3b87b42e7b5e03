"""Every write on stock."""

from shop.stock.actions.catalogue import (
    add_item,
    add_place,
    add_supplier,
    change_item,
    change_place,
    change_supplier,
)
from shop.stock.actions.movements import count, move, receive, spoil, take_back, use

__all__ = [
    "add_item",
    "add_place",
    "add_supplier",
    "change_item",
    "change_place",
    "change_supplier",
    "count",
    "move",
    "receive",
    "spoil",
    "take_back",
    "use",
]
