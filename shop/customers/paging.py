"""One page of an ordered list, found by where the page before it ended, so that no page is slower than the first."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shop.customers.querysets import CustomerQuerySet

PAGE = 50


@dataclass(frozen=True)
class Page:
    """The rows, and the ids before and after which the neighbouring pages lie (None where there is none)."""

    rows: Sequence[Any]
    before: int | None
    after: int | None


def page_of(customers: CustomerQuerySet, *, after: str = "", before: str = "", size: int = PAGE) -> Page:
    """The page after or before one customer's id as sent by the browser; the first page for an unknown one."""
    if before and (edge := _edge(customers, before)):
        rows = list(customers.before(edge).order_by("-name_search", "-id")[: size + 1])
        has_earlier = len(rows) > size
        rows = rows[:size][::-1]
        return _page(rows, has_earlier=has_earlier, has_later=True)
    edge = _edge(customers, after) if after else None
    rows = list((customers.after(edge) if edge else customers).in_order()[: size + 1])
    return _page(rows[:size], has_earlier=edge is not None, has_later=len(rows) > size)


def _edge(customers: CustomerQuerySet, sent: str) -> Any:
    if not (sent.isascii() and sent.isdecimal() and len(sent) < 19):
        return None
    return customers.model.objects.filter(pk=sent).only("id", "name_search").first()


def _page(rows: Sequence[Any], *, has_earlier: bool, has_later: bool) -> Page:
    before = rows[0].pk if rows and has_earlier else None
    after = rows[-1].pk if rows and has_later else None
    return Page(rows, before, after)
