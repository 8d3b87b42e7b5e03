"""Finding jobs in the list."""

from datetime import date

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from jobs.forms.fields import YEARS
from jobs.states import JobState, KindOfWork
from shop.forms import DayInput, PlainForm

IN_A_DIARY = [MinValueValidator(date(YEARS[0], 1, 1)), MaxValueValidator(date(YEARS[-1], 12, 31))]


class FindForm(PlainForm):
    q = forms.CharField(label="Find", required=False, max_length=80)
    state = forms.ChoiceField(required=False, choices=[("", "Any state"), ("open", "All open"), *JobState.choices])
    kind = forms.ChoiceField(required=False, label="Kind of work", choices=[("", "Any kind"), *KindOfWork.choices])
    since = forms.DateField(required=False, label="Called since", widget=DayInput, validators=IN_A_DIARY)
    until = forms.DateField(required=False, label="Called until", widget=DayInput, validators=IN_A_DIARY)
