"""Items, suppliers and places."""

from decimal import Decimal
from typing import Any

from django import forms

from shop.forms import CodeInput, MoneyField, PhoneField, PlainForm
from shop.staff.models import Person
from shop.stock.models import ItemKind, Place, PlaceKind, Supplier

TAX_CLASSES = [("parts", "Parts"), ("labour", "Labour")]


class ItemForm(PlainForm):
    number = forms.CharField(
        max_length=40,
        widget=CodeInput(),
        help_text="The shop's own number, as it is called in the van.",
        error_messages={"required": "Give it a number."},
    )
    name = forms.CharField(max_length=160, error_messages={"required": "Give it a name."})
    kind = forms.ChoiceField(choices=ItemKind.choices)
    price = MoneyField(
        label="Price without tax",
        at_least=Decimal(0),
        error_messages={"required": "Give the price; 0 if it is never charged."},
    )
    tax_class = forms.ChoiceField(label="Tax", choices=TAX_CLASSES)
    supplier = forms.ModelChoiceField(Supplier.objects.order_by("name"), required=False, empty_label="Nobody yet")
    is_active = forms.BooleanField(
        label="In use", required=False, initial=True, help_text="An item that is not in use is no longer offered."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A class that the owner taxes by another name is kept as it is.
        known = self.initial.get("tax_class", "parts")
        if known not in dict(TAX_CLASSES):
            self.fields["tax_class"].choices = [*TAX_CLASSES, (known, known.capitalize())]  # type: ignore[attr-defined]


class SupplierForm(PlainForm):
    name = forms.CharField(max_length=120, error_messages={"required": "Give it a name."})
    phone = PhoneField(required=False)
    email = forms.EmailField(label="E-mail", required=False)
    lead_days = forms.IntegerField(
        label="Days from order to delivery",
        min_value=0,
        max_value=365,
        initial=7,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "figures"}),
        error_messages={
            "required": "Give a number of days.",
            "invalid": "Give a whole number of days.",
            "min_value": "Not before it was ordered.",
            "max_value": "At most a year.",
        },
    )


class PlaceForm(PlainForm):
    name = forms.CharField(max_length=60, error_messages={"required": "Give it a name, such as Van 3."})
    kind = forms.ChoiceField(choices=PlaceKind.choices, widget=forms.RadioSelect, initial=PlaceKind.VAN)
    driver = forms.ModelChoiceField(
        Person.objects.technicians().order_by("name"), label="Who drives it", required=False, empty_label="Nobody"
    )

    @staticmethod
    def facts_of(place: Place) -> dict[str, Any]:
        return {"name": place.name, "kind": place.kind, "driver": place.driver_id}
