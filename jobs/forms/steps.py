"""A step of a visit: the button alone, with the booked start that was on the page."""

from django import forms
from django.utils.dateparse import parse_datetime

from shop.forms import PlainForm


class StepForm(PlainForm):
    seen_start = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def clean_seen_start(self) -> object:
        """The moment, or nothing when the page told none that can be read."""
        try:
            return parse_datetime(self.cleaned_data["seen_start"])
        except ValueError:
            return None
