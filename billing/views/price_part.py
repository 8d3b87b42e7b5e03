"""The price on a page while it is being put together: rows typed so far, proposed anew, added up."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from billing.forms.lines import HAND_KINDS, MOST_LINES, PriceLines, Row, chosen_items, merged, read_rows, row_of
from billing.models import LineKind
from billing.prices import current_book, item_line, propose
from billing.pricing import TaxLine, Totals
from billing.taxes import add_up, shop_day
from jobs.estimates import estimate_for
from shop.geo import Point
from shop.stock.models import Item
from vehicles.estimates import Estimate

MOST_FOUND = 8
SHORTEST_SEARCH = 2
_ACT = re.compile(r"line-(drop|item)-([0-9]{1,9})")


@dataclass(frozen=True)
class Circumstances:
    """What a proposal depends on, as far as it is known yet."""

    kind_of_work: str
    at: datetime
    point: Point | None = None
    km: Decimal | None = None
    make: str = ""
    model: str = ""


@dataclass(frozen=True)
class PricePart:
    """Everything that the price on a page shows."""

    lines: PriceLines
    totals: Totals
    doubts: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    dropped: str = ""
    minutes: int = 60
    estimate: Estimate | None = None
    found: list[Item] = field(default_factory=list)
    hand_kinds: tuple[tuple[str, Any], ...] = tuple(HAND_KINDS)

    @property
    def taxes(self) -> list[TaxLine]:
        """The taxes worth a line of their own: those that are not nothing."""
        return [tax for tax in self.totals.tax_lines if tax.rate]

    @property
    def rows(self) -> list[tuple[Any, Decimal | None]]:
        """Each line's form beside its amount; None while it is not whole."""
        amounts = iter(priced.amount for priced in self.totals.lines)
        return [(form, next(amounts, None) if form.is_valid() else None) for form in self.lines]


def proposed_part(typed: Mapping[str, Any], about: Circumstances, *, act: str = "") -> PricePart:
    """The price of a call: what was typed, with the price book's proposal for these circumstances around it."""
    rows, dropped = _after(act, typed)
    counts = chosen_items(rows)
    items = Item.objects.active().in_bulk(list(counts)) if counts else {}
    proposal = propose(
        about.kind_of_work,
        at=about.at,
        point=about.point,
        km=about.km,
        items=[(items[pk], count) for pk, count in counts.items() if pk in items],
    )
    rows = merged(rows, proposal, dropped=dropped)
    kind = about.kind_of_work
    estimate = estimate_for(kind, make=about.make, model=about.model) if kind else None
    part = _part(rows, typed, doubts=proposal.doubts, dropped=dropped)
    return replace(part, estimate=estimate, minutes=estimate.minutes if estimate else proposal.minutes)


def typed_part(typed: Mapping[str, Any], *, act: str = "") -> PricePart:
    """The price as it was typed, with nothing proposed anew."""
    rows, dropped = _after(act, typed)
    return _part(rows, typed, dropped=dropped)


def part_of(rows: Iterable[Row]) -> PricePart:
    """A price that begins with these rows."""
    return _part(list(rows), {})


def find_items(text: str) -> list[Item]:
    """Items whose number or name holds the text, those whose number or name begins with it first."""
    text = text.strip()
    if len(text) < SHORTEST_SEARCH:
        return []
    active = Item.objects.active()
    holding = active.filter(name__icontains=text[:60]) | active.filter(number__icontains=text[:60])
    low = text.lower()
    found = list(holding.order_by("number")[: MOST_FOUND * 4])
    return sorted(found, key=lambda item: not f"{item.number} {item.name}".lower().startswith(low))[:MOST_FOUND]


def _part(
    rows: list[Row],
    typed: Mapping[str, Any],
    *,
    doubts: Iterable[str] = (),
    dropped: Iterable[str] = (),
) -> PricePart:
    lines = PriceLines(rows, usual_tax_class=current_book().call_out_tax_class)
    totals = add_up(lines.lines(), on=shop_day(timezone.now()))
    return PricePart(
        lines=lines,
        totals=totals,
        doubts=tuple(doubts),
        problems=tuple(lines.problems()),
        dropped=",".join(dropped),
        found=find_items(str(typed.get("item_q", ""))),
    )


def _after(act: str, typed: Mapping[str, Any]) -> tuple[list[Row], list[str]]:
    """Rows and removed keys after a button of the price was pressed: a line removed, an item added, all put back."""
    dropped = [key for key in str(typed.get("dropped", "")).split(",") if key][:MOST_LINES]
    match = _ACT.fullmatch(act)
    if act == "line-restore":
        return read_rows(typed), []
    if not match:
        return read_rows(typed), dropped
    number = int(match[2])
    if match[1] == "item":
        return _with_item(read_rows(typed), number), [key for key in dropped if key != f"item:{number}"]
    key = str(typed.get(f"line-{number}-key", ""))
    return read_rows(typed, without=number), [*dropped, key] if key else dropped


def _with_item(rows: list[Row], pk: int) -> list[Row]:
    item = Item.objects.active().filter(pk=pk).first()
    if item is None:
        return rows
    key = f"item:{pk}"
    for at, row in enumerate(rows):
        if row.key == key and row.kind == LineKind.ITEM:
            one_more = f"{(chosen_items([row])[pk] + 1).normalize():f}"
            return [*rows[:at], Row(**{**vars(row), "quantity": one_more}), *rows[at + 1 :]]
    return [*rows, row_of(item_line(item))]
