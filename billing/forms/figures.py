"""Figures as people type them."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError


class FiguresInput(forms.TextInput):
    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "class": "figures", "autocomplete": "off", **(attrs or {})})


class FiguresField(forms.DecimalField):
    """A figure that is no money; a comma serves as a decimal point."""

    widget = FiguresInput

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        text = str(value if value is not None else "").strip().replace(",", ".")
        try:
            return super().to_python(text)
        except ValidationError:
            raise ValidationError(f"“{text[:20]}” is not a number.", code="invalid") from None


class QuantityField(FiguresField):
    """How many, or how many hours."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=7, decimal_places=2, **kwargs)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and value <= 0:
            raise ValidationError("The quantity must be more than nothing.", code="too_low")
