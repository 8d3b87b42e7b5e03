"""What an authority wants to see, and when it asked."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms.finding import IN_A_DIARY
from jobs.forms.keeping import JobNumberField
from jobs.inspection import Asked
from jobs.models.keeping import WAYS
from jobs.record_rules import Thing
from shop.forms import DayInput, PlainForm


class AskedForm(PlainForm):
    """A time, or one job."""

    since = forms.DateField(label="Done from", required=False, widget=DayInput, validators=IN_A_DIARY)
    until = forms.DateField(label="Done until", required=False, widget=DayInput, validators=IN_A_DIARY)
    thing = forms.ChoiceField(
        label="What",
        required=False,
        choices=[("", "Vehicles and buildings"), *((t.value, f"{t.capitalize()}s") for t in Thing)],
    )
    only_keys = forms.BooleanField(label="Only keys made", required=False)
    number = JobNumberField(label="Or one job, number", required=False)

    def clean(self) -> dict[str, Any]:
        told = self.cleaned_data
        if self.errors or told.get("number"):
            return told
        if not told.get("since") or not told.get("until"):
            raise ValidationError("Give the first and the last day, or the number of a job.")
        if told["until"] < told["since"]:
            self.add_error("until", "The last day comes before the first.")
        return told

    def asked(self) -> Asked:
        """What was asked for."""
        told = self.cleaned_data
        if job := told.get("number"):
            return Asked(job=job.pk)
        return Asked(told["since"], told["until"], told["thing"], told["only_keys"])


class RequestForm(AskedForm):
    authority = forms.CharField(
        label="Who asks",
        max_length=120,
        help_text="The authority and, where given, the officer and file number.",
        error_messages={"required": "Say who asks."},
    )
    received_on = forms.DateField(label="Received on", widget=DayInput)
    way = forms.ChoiceField(
        label="How it is answered",
        choices=WAYS,
        widget=forms.RadioSelect,
        initial="post",
    )


class AnsweredForm(PlainForm):
    how = forms.CharField(label="How it was answered", max_length=200, required=False)
