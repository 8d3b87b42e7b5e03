"""Lines on their way to an invoice, and which parts the price told already covers."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from billing.models import LineKind, QuotationLine
from billing.models.quotation import PricedLine
from billing.pricing import PriceLine, line_amount
from jobs.models import PartUse
from shop.stock.models import Item


@dataclass(frozen=True)
class BillLine:
    """A line to be charged, with the item it is for and, when it was added for one, the part used."""

    price: PriceLine
    item: Item | None = None
    part: PartUse | None = None


def line_of(kept: PricedLine) -> BillLine:
    """A stored line of a quotation or invoice as one to be charged."""
    price = PriceLine(kept.kind, kept.text, kept.quantity, kept.unit_price, kept.tax_class, kept.reason)
    return BillLine(price, kept.item, getattr(kept, "part", None))


def lines_told(lines: Iterable[QuotationLine]) -> list[BillLine]:
    """The lines of a price told."""
    return [line_of(line) for line in lines]


def parts_beyond(lines: Iterable[BillLine], parts: Iterable[PartUse]) -> list[BillLine]:
    """Lines for the charged parts that `lines` do not cover yet.

    A line of an item covers parts of that very item up to its quantity, in the order in which they were used; what
    goes beyond is charged at the item's price. A line told for an item that was not used stays: the price told holds.
    A part has one line of its own at most; what was changed by hand on that one stands.
    """
    lines = list(lines)
    has_line = {line.part.pk for line in lines if line.part}
    covered: dict[int, Decimal] = defaultdict(Decimal)
    for line in lines:
        if line.item:
            covered[line.item.pk] += line.price.quantity
    beyond = []
    for part in parts:
        rest = max(Decimal(part.quantity) - covered[part.item.pk], Decimal(0))
        covered[part.item.pk] -= part.quantity - rest
        if rest and part.pk not in has_line:
            beyond.append(_line_for_part(part, rest))
    return beyond


def not_charged(lines: Iterable[BillLine], *, words: str, currency: str) -> list[BillLine]:
    """Discount lines that bring `lines` to nothing: one for each class of tax, so that the tax goes too."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for line in lines:
        sums[line.price.tax_class] += line_amount(line.price, currency)
    return [
        BillLine(PriceLine(LineKind.DISCOUNT, words, Decimal(1), -amount, tax_class))
        for tax_class, amount in sums.items()
        if amount > 0
    ]


def _line_for_part(part: PartUse, quantity: Decimal) -> BillLine:
    item = part.item
    price = PriceLine(LineKind.ITEM, item.name, quantity, item.price, item.tax_class, "used on the job")
    return BillLine(price, item, part)
