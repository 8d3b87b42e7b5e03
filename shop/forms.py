"""Forms and fields that every app builds on."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shop.errors import Refused
from shop.models import Shop
from shop.money import MoneyError, format_amount, parse_amount
from shop.phones import PhoneError, read_phone

# Widest that a column of money holds: ten digits, two of them decimals.
MOST_MONEY = Decimal("99999999.99")


# What Django says at length, said short: it often stands under a narrow field. By the code of the check.
SHORT_WORDS = {
    "min_value": "At least %(limit_value)s.",
    "max_value": "At most %(limit_value)s.",
    "max_length": "At most %(limit_value)d characters; these are %(show_value)d.",
    "max_decimal_places": "Too many decimal places.",
    "max_digits": "Too many digits.",
    "max_whole_digits": "Too many digits.",
}


class PlainForm(forms.Form):
    """A form whose labels carry no colon, and that leaves required marks to its own words."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        kwargs.setdefault("use_required_attribute", False)
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages = {**SHORT_WORDS, **field.error_messages}

    def refuse(self, refused: Refused) -> None:
        """Shows a rule's refusal beside the field it names, or above the form."""
        field = refused.field if refused.field in self.fields else None
        self.add_error(field, str(refused))


class ChangeForm(PlainForm):
    """A form that changes a row. Each field sends along what it showed, so that only what was typed over is written and
    nobody undoes unknowingly what somebody else changed since the page was opened."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.show_hidden_initial = True

    def is_typed_over(self, name: str) -> bool:
        """Whether a field says something else than it showed; one that does not tell what it showed does."""
        return name in self.changed_data or self.add_initial_prefix(name) not in self.data


class PhoneInput(forms.TextInput):
    input_type = "tel"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "tel", "autocomplete": "off", **(attrs or {})})


class MoneyInput(forms.TextInput):
    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", "class": "figures", **(attrs or {})})


class CodeInput(forms.TextInput):
    """Plates, VINs, key codes: capitals, fixed width, nothing corrected by the keyboard."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        usual = {"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false", "class": "code"}
        super().__init__({**usual, **(attrs or {})})


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class ClockInput(forms.TimeInput):
    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")


class DayClockInput(forms.DateTimeInput):
    """A day and a time in the shop's zone, which `ShopMiddleware` has made the current one."""

    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%dT%H:%M")


class PhoneField(forms.CharField):
    """A number typed any way; cleans to E.164. An extension is left out: keep it in the notes."""

    widget = PhoneInput

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        if not text:
            return ""
        try:
            return read_phone(text, region=Shop.current().country).e164
        except PhoneError as error:
            raise ValidationError(str(error), code="invalid") from None


class MoneyField(forms.CharField):
    """An amount in the shop's currency, typed as people type it; cleans to a `Decimal` in its minor unit."""

    widget = MoneyInput

    def __init__(self, *, allow_negative: bool = False, at_least: Decimal | None = None, **kwargs: Any) -> None:
        self.allow_negative = allow_negative
        self.at_least = at_least
        super().__init__(**kwargs)

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if not text:
            return None
        currency = Shop.current().currency
        try:
            amount = parse_amount(text, currency, allow_negative=self.allow_negative)
        except MoneyError as error:
            raise ValidationError(str(error), code="invalid") from None
        if abs(amount) > MOST_MONEY:
            raise ValidationError("That is more than can be kept.", code="too_high")
        if self.at_least is not None and amount < self.at_least:
            raise ValidationError(f"This must be at least {format_amount(self.at_least, currency)}.", code="too_low")
        return amount
