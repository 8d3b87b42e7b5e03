"""The price book as its owner types it: one form for each part."""

from decimal import Decimal
from typing import Any

from django import forms

from billing.forms.figures import FiguresField, FiguresInput
from billing.models import CallOutBand, LabourPrice, PriceBook
from jobs.states import KindOfWork
from shop.forms import ClockInput, DayInput, MoneyField, PlainForm

NOTHING = Decimal(0)
SPARE_BANDS = 2
MOST_BANDS = 20


class BandForm(PlainForm):
    """One call-out band; empty rows are left out."""

    up_to_km = FiguresField(
        required=False,
        min_value=Decimal("0.1"),
        max_value=Decimal(2000),
        max_digits=6,
        decimal_places=1,
        label="Up to km by road",
    )
    price = MoneyField(required=False, at_least=NOTHING, label="Price")

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        has_km, has_price = facts.get("up_to_km") is not None, facts.get("price") is not None
        if has_km and not has_price and "price" not in self.errors:
            self.add_error("price", "Which price?")
        if has_price and not has_km and "up_to_km" not in self.errors:
            self.add_error("up_to_km", "Up to how many km?")
        return facts


class BandsForm:
    """All call-out bands, in the order typed. They must go outward."""

    def __init__(self, typed: Any = None) -> None:
        bands = list(CallOutBand.objects.all())
        count = len(bands) + SPARE_BANDS
        if typed is not None:
            count = min(MOST_BANDS, sum(1 for name in typed if name.startswith("band-") and name.endswith("-price")))
        self.rows = [
            BandForm(
                typed,
                prefix=f"band-{n}",
                initial={"up_to_km": bands[n].up_to_km, "price": bands[n].price} if n < len(bands) else None,
            )
            for n in range(count)
        ]

    def is_valid(self) -> bool:
        """Each row is whole and reaches farther than the one before; the fault is shown beside the row."""
        whole = [row.is_valid() for row in self.rows]
        if not all(whole):
            return False
        last = NOTHING
        for row in self.rows:
            km = row.cleaned_data["up_to_km"]
            if km is None:
                continue
            if km <= last:
                row.add_error("up_to_km", f"This must be more than {last} km, the band before.")
                return False
            last = km
        return True

    @property
    def bands(self) -> list[tuple[Decimal, Decimal]]:
        """The checked bands: up to km, price."""
        facts = [row.cleaned_data for row in self.rows]
        return [(fact["up_to_km"], fact["price"]) for fact in facts if fact["up_to_km"] is not None]


class LabourForm(PlainForm):
    """Price and usual time of one kind of work; an empty price takes it out of the book."""

    price = MoneyField(required=False, at_least=NOTHING, label="Price")
    minutes = forms.IntegerField(
        required=False,
        min_value=5,
        max_value=960,
        label="Usual minutes",
        widget=FiguresInput,
    )

    def __init__(self, kind: KindOfWork, typed: Any, labour: LabourPrice | None) -> None:
        self.kind = kind
        initial = {"price": labour.price, "minutes": labour.minutes} if labour else {}
        super().__init__(typed, prefix=f"labour-{kind.value}", initial=initial)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if facts.get("price") is not None and not facts.get("minutes") and "minutes" not in self.errors:
            self.add_error("minutes", "How long does it usually take?")
        if facts.get("minutes") and facts.get("price") is None and "price" not in self.errors:
            self.add_error("price", "Which price?")
        return facts


class LabourBookForm:
    """Labour of all kinds of work."""

    def __init__(self, typed: Any = None) -> None:
        book = {labour.kind_of_work: labour for labour in LabourPrice.objects.all()}
        self.rows = [LabourForm(kind, typed, book.get(kind.value)) for kind in KindOfWork]

    def is_valid(self) -> bool:
        whole = [row.is_valid() for row in self.rows]
        return all(whole)

    @property
    def prices(self) -> dict[KindOfWork, tuple[Decimal, int] | None]:
        """Price and minutes of each kind of work; None takes it out of the book."""
        facts = {row.kind: row.cleaned_data for row in self.rows}
        return {
            kind: None if fact["price"] is None else (fact["price"], fact["minutes"]) for kind, fact in facts.items()
        }


class AfterHoursForm(PlainForm):
    """When work costs more, and how much."""

    after_hours_from = forms.TimeField(label="From", widget=ClockInput)
    after_hours_until = forms.TimeField(label="Until", widget=ClockInput)
    is_weekend_after_hours = forms.BooleanField(required=False, label="All Saturday and Sunday too")
    after_hours_price = MoneyField(at_least=NOTHING, label="Price on top")

    def __init__(self, typed: Any = None, *, book: PriceBook) -> None:
        initial = {name: getattr(book, name) for name in self.base_fields}
        super().__init__(typed, initial=initial)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        start = facts.get("after_hours_from")
        if start is not None and start == facts.get("after_hours_until"):
            self.add_error("after_hours_until", "After hours must end at another time than they begin.")
        return facts


class TaxRateForm(PlainForm):
    """A tax rate from a day on."""

    tax_class = forms.RegexField(
        r"^[\w -]{1,20}$",
        label="On lines of class",
        error_messages={"invalid": "Letters, digits and spaces only, at most 20.", "required": "Which class?"},
    )
    name = forms.CharField(max_length=60, label="Name on papers", error_messages={"required": "What is it called?"})
    percent = FiguresField(
        min_value=NOTHING,
        max_value=Decimal(100),
        max_digits=6,
        decimal_places=3,
        label="Percent",
        error_messages={"min_value": "A tax rate is not below nothing.", "required": "How many percent?"},
    )
    holds_from = forms.DateField(label="Holds from", widget=DayInput)
