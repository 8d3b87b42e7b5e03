"""Receiving, moving, counting and spoiling."""

from typing import Any

from django import forms

from shop.forms import PlainForm
from shop.stock.forms.fields import QuantityField, UnitCostField
from shop.stock.models import Place, SpoiledReason


def _place(label: str, **kwargs: Any) -> forms.ModelChoiceField:
    words = {"required": "Choose a place.", "invalid_choice": "Choose one of the places."}
    kwargs.setdefault("empty_label", None)
    return forms.ModelChoiceField(Place.objects.order_by("kind", "name"), label=label, error_messages=words, **kwargs)


class ReceiveForm(PlainForm):
    place = _place("Where it goes")
    quantity = QuantityField(label="How many")
    unit_cost = UnitCostField(
        label="Cost of one, without tax", error_messages={"required": "Give what one cost, as on the bill."}
    )
    note = forms.CharField(label="Bill or delivery note", max_length=200, required=False)


class MoveForm(PlainForm):
    origin = _place("From")
    target = _place("To", empty_label="Choose a place")
    quantity = QuantityField(label="How many")


class CountForm(PlainForm):
    place = _place("Where")
    counted = QuantityField(label="How many are there", least=0)


class SpoilForm(PlainForm):
    place = _place("Where")
    quantity = QuantityField(label="How many")
    reason = forms.ChoiceField(
        label="How",
        choices=SpoiledReason.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was spoiled."},
    )
    note = forms.CharField(label="What happened", max_length=200, required=False)


class VanCountForm(PlainForm):
    counted = QuantityField(label="Counted", least=0)
