"""One person: facts and roles, the week, days off."""

from collections.abc import Iterator
from datetime import time
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from shop.forms import ClockInput, DayInput, MoneyField, PhoneField, PlainForm
from shop.models import Shop
from shop.phones import shown
from shop.staff.forms.sign_in import EmailInput, NewPassword
from shop.staff.models import Person
from shop.staff.roles import Role

ROLES = [(Role.OWNER, "Owner"), (Role.OFFICE, "Office"), (Role.TECHNICIAN, "Technician")]
WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
# Widest that the column holds: 8 digits, 2 of them decimals.
MOST_AN_HOUR = Decimal("999999.99")


class PersonForm(PlainForm):
    name = forms.CharField(label="Name", max_length=100)
    email = forms.EmailField(label="E-mail", help_text="For signing in.", widget=EmailInput({"autocomplete": "off"}))
    phone = PhoneField(label="Phone", required=False)
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=ROLES,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Give at least one role."},
    )
    hourly_cost = MoneyField(
        label="Cost of an hour",
        required=False,
        at_least=Decimal("0"),
        help_text="Wage and everything on top; margins count working time at it. Seen by owners only.",
    )
    licence_number = forms.CharField(
        label="Licence number", required=False, max_length=60, help_text="Where the law asks for one."
    )

    def clean_hourly_cost(self) -> Decimal:
        cost: Decimal = self.cleaned_data["hourly_cost"] or Decimal("0")
        if cost > MOST_AN_HOUR:
            raise ValidationError("That is too much for an hour.", code="too_high")
        return cost

    @staticmethod
    def facts_of(person: Person) -> dict[str, Any]:
        """What the form shows of somebody before anything is typed."""
        facts = {name: getattr(person, name) for name in ("name", "email", "hourly_cost", "licence_number")}
        phone = shown(person.phone, region=Shop.current().country) if person.phone else ""
        return {**facts, "phone": phone, "roles": [role.value for role in person.roles]}


class AddPersonForm(NewPassword, PersonForm):
    field_order = ["name", "email", "phone", "roles", "hourly_cost", "licence_number", "password"]


class WeekForm(PlainForm):
    """From and until for each weekday; a day with both empty is free."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, day in enumerate(WEEKDAYS):
            for side in ("from", "until"):
                named = ClockInput({"aria-label": f"{day} {side}", "class": "input"})
                self.fields[f"{side}_{number}"] = forms.TimeField(label=f"{day} {side}", required=False, widget=named)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for number in range(7):
            starts, ends = cleaned.get(f"from_{number}"), cleaned.get(f"until_{number}")
            if self.errors.keys() & {f"from_{number}", f"until_{number}"}:
                continue
            if (starts is None) != (ends is None):
                self.add_error(f"until_{number}", "Fill in both times, or neither.")
            elif starts and ends and starts >= ends:
                self.add_error(f"until_{number}", "The shift ends before it begins.")
        return cleaned

    @property
    def shifts(self) -> dict[int, tuple[time, time]]:
        """The cleaned week as `actions.set_week` takes it."""
        cleaned = self.cleaned_data
        pairs = {number: (cleaned[f"from_{number}"], cleaned[f"until_{number}"]) for number in range(7)}
        return {number: pair for number, pair in pairs.items() if pair[0] is not None}

    @property
    def days(self) -> Iterator[tuple[str, BoundField, BoundField]]:
        for number, day in enumerate(WEEKDAYS):
            yield day, self[f"from_{number}"], self[f"until_{number}"]

    @staticmethod
    def facts_of(person: Person) -> dict[str, Any]:
        shown: dict[str, Any] = {}
        for shift in person.weekly_shifts.all():
            shown |= {f"from_{shift.weekday}": shift.starts, f"until_{shift.weekday}": shift.ends}
        return shown


class DayOffForm(PlainForm):
    on = forms.DateField(label="First day", widget=DayInput)
    until = forms.DateField(label="Last day", required=False, widget=DayInput)
    reason = forms.CharField(label="Reason", required=False, max_length=100)
