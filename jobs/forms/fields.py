"""A moment typed as the clock on the wall shows it."""

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from shop.forms import DayClockInput

YEARS = range(2000, 2101)


class MomentField(forms.DateTimeField):
    """Day and time in the shop's zone, or an instant with its offset; cleans to UTC.

    An hour that the clocks leave out is refused with words; of one that is lived twice the first is meant, unless an
    offset says which.
    """

    widget = DayClockInput

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        typed = value if isinstance(value, datetime) else _parsed(str(value))
        if typed.year not in YEARS:
            raise ValidationError("Check the year.", code="invalid")
        return typed.astimezone(UTC) if timezone.is_aware(typed) else on_the_wall(typed)


def _parsed(text: str) -> datetime:
    try:
        typed = parse_datetime(text.strip())
    except ValueError:
        typed = None
    if typed is None:
        raise ValidationError("Give a day and a time.", code="invalid")
    return typed


def on_the_wall(typed: datetime) -> datetime:
    """The instant at which clocks in the shop's zone show this; of two the first. Raises ValidationError for none."""
    zone = timezone.get_current_timezone()
    instant = typed.replace(tzinfo=zone).astimezone(UTC)
    if instant.astimezone(zone).replace(tzinfo=None) != typed:
        raise ValidationError(
            f"There is no {typed:%H:%M} on that day: the clocks go forward. Choose another time.", code="invalid"
        )
    return instant
