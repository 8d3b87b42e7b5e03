"""Putting right when a visit really set off, arrived and finished."""

from django import forms

from jobs.forms.fields import MomentField
from shop.forms import PlainForm


class TimesForm(PlainForm):
    set_off_at = MomentField(label="Set off", required=False)
    arrived_at = MomentField(label="Arrived", required=False)
    finished_at = MomentField(label="Finished", required=False)
    reason = forms.CharField(label="Why", max_length=200, required=False)
