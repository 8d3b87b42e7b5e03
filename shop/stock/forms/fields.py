"""Quantities and costs as people type them."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shop.forms import MoneyInput
from shop.money import MoneyError, parse_amount

MOST = 9_999
MOST_COST = Decimal(999_999)
COST_DECIMALS = 4


class QuantityField(forms.IntegerField):
    """A whole number of items, at least one unless told."""

    def __init__(self, *, least: int = 1, most: int = MOST, **kwargs: Any) -> None:
        at_least = "Give a number of at least one." if least else "A count is not below nothing."
        words = {
            "required": "Say how many.",
            "invalid": "Give a whole number.",
            "min_value": at_least,
            "max_value": f"At most {most} at a time.",
        }
        words |= kwargs.pop("error_messages", {})
        widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "figures"})
        super().__init__(min_value=least, max_value=most, widget=widget, error_messages=words, **kwargs)


class UnitCostField(forms.CharField):
    """The cost of one, which may be finer than the currency: a hundred blanks for 8.50 are 0.085 each."""

    widget = MoneyInput

    def clean(self, value: Any) -> Decimal:
        try:
            cost = parse_amount(super().clean(value))
        except MoneyError as error:
            raise ValidationError(str(error), code="invalid") from None
        exponent = cost.normalize().as_tuple().exponent
        if isinstance(exponent, int) and exponent < -COST_DECIMALS:
            raise ValidationError("At most four decimals.", code="too_fine")
        if cost > MOST_COST:
            raise ValidationError("That is too much for one. Check the cost.", code="too_much")
        return cost
