"""A VIN read off the vehicle."""

from django import forms

from shop.forms import CodeInput, PlainForm
from vehicles.vin import VinReading, read_vin


class VinForm(PlainForm):
    """Cleans to a well-formed VIN; what is doubtful about it is in `reading`."""

    vin = forms.CharField(
        label="VIN",
        max_length=60,
        widget=CodeInput(attrs={"inputmode": "text", "enterkeyhint": "done"}),
        error_messages={"required": "Type the VIN, 17 letters and digits."},
    )
    reading: VinReading

    def clean_vin(self) -> str:
        self.reading = read_vin(self.cleaned_data["vin"])
        if not self.reading.is_well_formed:
            raise forms.ValidationError(list(self.reading.warnings), code="invalid")
        return self.reading.vin
