"""A vehicle by plate, VIN, or year, make and model."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from shop.forms import CodeInput, PlainForm
from vehicles.models import Vehicle
from vehicles.vin import VinReading, read_vin

FIRST_YEAR = 1900


class VehicleForm(PlainForm):
    plate = forms.CharField(label="Plate", required=False, max_length=16, widget=CodeInput)
    # Longer than a VIN, so that one character too many is told as such and what was typed stays.
    vin = forms.CharField(label="VIN", required=False, max_length=60, widget=CodeInput)
    is_vin_meant = forms.BooleanField(
        label="Keep this VIN all the same", required=False, help_text="Read again from the vehicle, and it stands so."
    )
    year = forms.IntegerField(label="Year", required=False, min_value=FIRST_YEAR)
    make = forms.CharField(label="Make", required=False, max_length=60)
    model = forms.CharField(label="Model", required=False, max_length=60)
    colour = forms.CharField(label="Colour", required=False, max_length=30)
    notes = forms.CharField(label="Notes", required=False, max_length=4000, widget=forms.Textarea({"rows": 3}))

    asks_if_vin_is_meant = False

    def clean_vin(self) -> str:
        typed = self.cleaned_data["vin"]
        if not typed:
            return ""
        reading = read_vin(typed, today=timezone.localdate())
        if not reading.is_well_formed:
            raise ValidationError(list(reading.warnings), code="malformed")
        self._ask_about_check_digit(reading)
        return reading.vin

    def _ask_about_check_digit(self, reading: VinReading) -> None:
        """On a VIN from North America a wrong check digit is a slip almost for sure, so it is kept only on purpose."""
        if reading.check_digit_ok or reading.maker_region != "North America":
            return
        self.asks_if_vin_is_meant = True
        if not self.fields["is_vin_meant"].clean(self._typed("is_vin_meant")):
            raise ValidationError(list(reading.warnings), code="check_digit")

    def _typed(self, name: str) -> Any:
        field = self.fields[name]
        return field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))

    def clean_year(self) -> int | None:
        year: int | None = self.cleaned_data["year"]
        if year and year > timezone.localdate().year + 1:
            raise ValidationError("That year has not come yet.", code="too_late")
        return year

    @property
    def facts(self) -> dict[str, Any]:
        """The cleaned facts as `actions.add_vehicle` takes them."""
        return {name: value for name, value in self.cleaned_data.items() if name != "is_vin_meant"}

    @staticmethod
    def facts_of(vehicle: Vehicle) -> dict[str, Any]:
        return {name: getattr(vehicle, name) for name in VehicleForm.base_fields if name != "is_vin_meant"}
