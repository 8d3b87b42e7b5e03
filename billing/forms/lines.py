"""The lines of a price as they stand on a page: typed, proposed anew, put together."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from billing.forms.figures import QuantityField
from billing.models import LineKind
from billing.prices import BookLine, Proposal
from billing.pricing import PricingError
from shop.forms import MoneyField, PlainForm
from shop.stock.models import Item

MOST_LINES = 40
_ROW = re.compile(r"line-([0-9]{1,3})-text")
_BY_HAND = [(kind.value, kind.label) for kind in (LineKind.OTHER, LineKind.PROGRAMMING, LineKind.ITEM)]
HAND_KINDS = [*_BY_HAND, (LineKind.DISCOUNT.value, LineKind.DISCOUNT.label)]


@dataclass(frozen=True)
class Row:
    """One line as it stands in the form. `book` is what the price book said of a line that it proposed."""

    key: str = ""
    kind: str = LineKind.OTHER.value
    text: str = ""
    quantity: str = "1"
    price: str = ""
    reason: str = ""
    tax_class: str = ""
    item: str = ""
    book: str = ""

    @property
    def is_blank(self) -> bool:
        return not self.key and not self.text.strip() and not self.price.strip()

    @property
    def is_changed(self) -> bool:
        """Typed over by hand since the price book proposed it; the number of an item does not count."""
        return bool(self.book) and self.book != _book_words(self)

    @property
    def book_price(self) -> str:
        """The price that the price book said, when another stands here now."""
        said = self.book.partition(" | ")[0]
        return said if said and said != self.price.strip() else ""


def row_of(line: BookLine) -> Row:
    """A line as it is shown, ready to be typed over."""
    row = Row(
        key=line.key,
        kind=line.kind,
        text=line.text,
        quantity=f"{line.quantity.normalize():f}",
        price=f"{line.unit_price:f}",
        reason=line.reason,
        tax_class=line.tax_class,
        item=str(line.item_id or ""),
    )
    return replace(row, book=_book_words(row)) if line.key else row


def read_rows(typed: Mapping[str, Any], *, without: int | None = None) -> list[Row]:
    """The rows sent with a form, in their order on the page; blank ones and row `without` are left out."""
    numbers = sorted({int(match[1]) for name in typed if (match := _ROW.fullmatch(name))})[:MOST_LINES]
    rows = [
        Row(**{name: str(typed.get(f"line-{number}-{name}", "")) for name in Row.__dataclass_fields__})
        for number in numbers
        if number != without
    ]
    return [row for row in rows if not row.is_blank]


def chosen_items(rows: Iterable[Row]) -> dict[int, Decimal]:
    """Ids and quantities of the stock items in these rows; a quantity that cannot be read counts as one."""
    return {int(row.item): _quantity_or_one(row.quantity) for row in rows if row.item.isdecimal() and row.key}


def merged(rows: Iterable[Row], proposal: Proposal, *, dropped: Iterable[str] = ()) -> list[Row]:
    """A new proposal over the rows of the old one.

    What was typed over by hand stays, what was removed stays away, and lines added by hand follow at the end.
    """
    rows = list(rows)
    typed = {row.key: row for row in rows if row.key}
    away = set(dropped)
    proposed = [row_of(line) for line in proposal.lines if line.key not in away]
    kept = [_keep_typed(row, typed.get(row.key)) for row in proposed]
    return [*kept, *(row for row in rows if not row.key)]


def _keep_typed(row: Row, typed: Row | None) -> Row:
    if typed is None:
        return row
    if typed.is_changed:
        return replace(typed, book=row.book, reason=row.reason, tax_class=row.tax_class)
    return replace(row, quantity=typed.quantity)


def _book_words(row: Row) -> str:
    return f"{row.price.strip()} | {row.text.strip()}"


def _quantity_or_one(text: str) -> Decimal:
    try:
        return QuantityField().clean(text)
    except ValidationError:
        return Decimal(1)


class LineForm(PlainForm):
    """One line of a price."""

    text = forms.CharField(max_length=200, error_messages={"required": "Say what this line is for."})
    quantity = QuantityField(error_messages={"required": "How many?"})
    price = MoneyField(allow_negative=True, error_messages={"required": "Which price?"})
    kind = forms.ChoiceField(choices=LineKind)
    tax_class = forms.RegexField(r"^[\w -]{1,20}$", required=False)
    key = forms.CharField(max_length=40, required=False)
    reason = forms.CharField(max_length=200, required=False)
    item = forms.IntegerField(min_value=1, required=False)
    book = forms.CharField(required=False)

    def __init__(self, row: Row, number: int) -> None:
        prefix = f"line-{number}"
        super().__init__({f"{prefix}-{name}": value for name, value in asdict(row).items()}, prefix=prefix)
        self.row = row
        self.number = number
        self.amount: Decimal | None = None

    @property
    def kind_words(self) -> str:
        """The kind of line in plain words."""
        return LineKind(self.row.kind).label if self.row.kind in LineKind.values else ""

    @property
    def hidden(self) -> list[tuple[str, str]]:
        """Names and values that go along with the line unseen."""
        return [(name, getattr(self.row, name)) for name in ("key", "kind", "reason", "tax_class", "item", "book")]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        price, kind = facts.get("price"), facts.get("kind")
        if price is not None and kind == LineKind.DISCOUNT:
            facts["price"] = -abs(price)
        elif price is not None and price < 0:
            self.add_error("price", "Only a discount takes money off.")
        return facts

    def line(self, tax_class: str) -> BookLine:
        """The checked line; `tax_class` serves where the row names none."""
        facts = self.cleaned_data
        return BookLine(
            kind=facts["kind"],
            text=facts["text"],
            quantity=facts["quantity"],
            unit_price=facts["price"],
            tax_class=facts["tax_class"] or tax_class,
            reason="by hand" if self.row.is_changed and facts["kind"] != LineKind.ITEM else facts["reason"],
            item_id=facts["item"],
            key=facts["key"],
        )


class PriceLines:
    """All lines of a price on a page, checked one by one."""

    def __init__(self, rows: Iterable[Row], *, usual_tax_class: str) -> None:
        self.forms = [LineForm(row, number) for number, row in enumerate(rows)]
        self.usual_tax_class = usual_tax_class

    def __iter__(self) -> Any:
        return iter(self.forms)

    @property
    def next_number(self) -> int:
        return len(self.forms)

    def is_valid(self) -> bool:
        """Every line is whole, and every item in them is one that the shop keeps."""
        self._check_items()
        valid = [form.is_valid() for form in self.forms]
        return all(valid)

    def lines(self) -> list[BookLine]:
        """The lines that are whole; those still being typed are left out."""
        lines = []
        for form in self.forms:
            try:
                lines += [form.line(self._tax_class_of(form))] if form.is_valid() else []
            except PricingError as error:
                form.refuse(error)
        return lines

    def problems(self) -> list[str]:
        """What is wrong with the lines, one sentence for each, fit to show under the total."""
        return [
            f"Line {form.number + 1}: {words}"
            for form in self.forms
            if not form.is_valid()
            for faults in form.errors.values()
            for words in faults
        ]

    def _tax_class_of(self, form: LineForm) -> str:
        is_item = form.cleaned_data["kind"] == LineKind.ITEM
        return Item._meta.get_field("tax_class").get_default() if is_item else self.usual_tax_class

    def _check_items(self) -> None:
        wanted = {form.cleaned_data["item"] for form in self.forms if form.is_valid() and form.cleaned_data["item"]}
        known = set(Item.objects.filter(pk__in=wanted).values_list("pk", flat=True)) if wanted else set()
        for form in self.forms:
            if form.is_valid() and form.cleaned_data["item"] and form.cleaned_data["item"] not in known:
                form.add_error("text", "This item is not in stock's list any more.")
