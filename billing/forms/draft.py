"""The lines of a draft invoice, changed by hand."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from billing.forms.figures import QuantityField
from billing.lines import BillLine
from billing.models import Invoice, InvoiceLine, LineKind, PriceBook, TaxRate
from billing.prices import current_book
from billing.pricing import PriceLine
from shop.errors import Refused
from shop.forms import MoneyField, PlainForm

TAKES_OFF = frozenset({LineKind.DISCOUNT.value})
MOST_LINES = 60


class DraftLineForm(PlainForm):
    """One line. `line` is the id of the stored line it came from; a blank one is a line that is not used."""

    line = forms.IntegerField(required=False, widget=forms.HiddenInput)
    kind = forms.ChoiceField(choices=LineKind, label="Kind", initial=LineKind.OTHER)
    text = forms.CharField(required=False, max_length=200, label="Description")
    quantity = QuantityField(required=False, label="Quantity")
    unit_price = MoneyField(required=False, allow_negative=True, label="Price")
    tax_class = forms.ChoiceField(label="Tax class")
    remove = forms.BooleanField(required=False, label="Remove")

    def __init__(self, *args: Any, tax_classes: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax_class"].choices = [(each, each) for each in tax_classes]  # type: ignore[attr-defined]
        self.fields["quantity"].widget.attrs.update({"class": "figures", "inputmode": "decimal"})

    @property
    def is_used(self) -> bool:
        facts = self.cleaned_data
        typed = facts.get("text") or facts.get("unit_price") is not None
        return bool(typed or facts.get("line")) and not facts.get("remove")

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if self.is_used and not self.errors:
            for name, words in (("text", "Say what this is for."), ("unit_price", "Give the price.")):
                if facts.get(name) in (None, ""):
                    self.add_error(name, words)
            self._check_price(facts)
        return facts

    def _check_price(self, facts: dict[str, Any]) -> None:
        price, kind = facts.get("unit_price"), facts.get("kind")
        if price is None:
            return
        if kind in TAKES_OFF and price > 0:
            facts["unit_price"] = -price
        elif kind not in TAKES_OFF and price < 0:
            self.add_error("unit_price", "Only a discount takes money off.")


class DraftLines(BaseFormSet):
    """All lines of one draft as sent."""

    def bill_lines(self, invoice: Invoice) -> list[BillLine]:
        """The lines to keep. Raises Refused when the draft was changed by somebody else since it was shown."""
        kept = {line.pk: line for line in invoice.lines.select_related("item", "part")}
        used = [form.cleaned_data for form in self.forms if form.is_used]
        sent = {facts["line"] for facts in (form.cleaned_data for form in self.forms) if facts.get("line")}
        if sent != set(kept):
            raise Refused("This draft was changed since you opened it. Here is how it stands now; change it again.")
        return [_bill_line(facts, kept.get(facts["line"])) for facts in used]


class DraftFactsForm(PlainForm):
    purchase_order = forms.CharField(required=False, max_length=60, label="Purchase order")
    note = forms.CharField(required=False, max_length=300, label="Note on the invoice")


def draft_lines(invoice: Invoice, data: Any = None) -> DraftLines:
    """The formset of a draft, with two blank lines at its end."""
    kept = list(invoice.lines.all())
    initial = [
        {
            "line": line.pk,
            "kind": line.kind,
            "text": line.text,
            "quantity": f"{line.quantity.normalize():f}",
            "unit_price": str(line.unit_price),
            "tax_class": line.tax_class,
        }
        for line in kept
    ]
    made = formset_factory(DraftLineForm, formset=DraftLines, extra=2, max_num=MOST_LINES, absolute_max=MOST_LINES)
    kwargs = {"tax_classes": tax_classes(current_book(), (line.tax_class for line in kept))}
    lines: DraftLines = made(  # type: ignore[assignment]
        data, initial=initial, prefix="line", form_kwargs=kwargs
    )
    return lines


def tax_classes(book: PriceBook, used: Iterable[str]) -> list[str]:
    """Classes of tax to choose from, that of most lines first."""
    known = TaxRate.objects.order_by("tax_class").values_list("tax_class", flat=True).distinct()
    return list(dict.fromkeys([book.call_out_tax_class, *known, "parts", *used]))


def _bill_line(facts: dict[str, Any], kept: InvoiceLine | None) -> BillLine:
    quantity = facts["quantity"] if facts.get("quantity") is not None else 1
    reason = kept.reason if kept and kept.text == facts["text"] else ""
    price = PriceLine(
        facts["kind"], facts["text"], QuantityField().clean(quantity), facts["unit_price"], facts["tax_class"], reason
    )
    return BillLine(price, kept.item if kept else None, kept.part if kept else None)
