"""Holds, times of keeping, a customer's data."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.models import Hold, Job
from shop.forms import DayInput, PlainForm

WHY = {"required": "Say why, in a few words."}


class JobNumberField(forms.IntegerField):
    """The number of a job; cleans to the job."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=10**15, widget=forms.TextInput({"inputmode": "numeric"}), **kwargs)

    def clean(self, value: Any) -> Any:
        number = super().clean(value)
        if number is None:
            return None
        job = Job.objects.filter(number=number).first()
        if job is None:
            raise ValidationError("There is no job with this number.", code="unknown")
        return job


class HoldForm(PlainForm):
    """A hold on a job; `of_customer` leaves the job out."""

    job = JobNumberField(label="Job number")
    kind = forms.ChoiceField(
        label="Why", choices=Hold.Kind.choices, widget=forms.RadioSelect, initial=Hold.Kind.DISPUTE
    )
    reason = forms.CharField(
        label="What it is about", max_length=300, error_messages=WHY, help_text="The matter, not the person."
    )
    until = forms.DateField(
        label="Until", required=False, widget=DayInput, help_text="Leave empty: until you lift the hold."
    )

    def __init__(self, *args: Any, of_customer: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if of_customer:
            del self.fields["job"]


class LiftForm(PlainForm):
    reason = forms.CharField(label="Why the hold is lifted", max_length=300, error_messages=WHY)


class TimesForm(PlainForm):
    money_years = forms.IntegerField(
        label="Invoices and payments, years",
        min_value=1,
        max_value=100,
        help_text="Ten to begin with. Ask your tax adviser what your law wants.",
    )
    photo_years = forms.IntegerField(label="Photos of jobs, years", min_value=1, max_value=100)


class EraseForm(PlainForm):
    reason = forms.CharField(
        label="Why", max_length=300, error_messages=WHY, help_text="For example: asked for it by letter of 3 March."
    )


class ExportForm(PlainForm):
    reason = forms.CharField(
        label="Why guarded data is opened",
        max_length=200,
        required=False,
        help_text="Leave empty: key data, birth date, document number and signature stay out. "
        "With a reason each opening is recorded.",
    )
