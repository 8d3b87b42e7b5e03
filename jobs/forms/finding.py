"""Finding jobs in the list."""

from django import forms

from jobs.states import JobState, KindOfWork
from shop.forms import DayInput, PlainForm


class FindForm(PlainForm):
    q = forms.CharField(label="Find", required=False, max_length=80)
    state = forms.ChoiceField(required=False, choices=[("", "Any state"), ("open", "All open"), *JobState.choices])
    kind = forms.ChoiceField(required=False, label="Kind of work", choices=[("", "Any kind"), *KindOfWork.choices])
    since = forms.DateField(required=False, label="Called since", widget=DayInput)
    until = forms.DateField(required=False, label="Called until", widget=DayInput)
