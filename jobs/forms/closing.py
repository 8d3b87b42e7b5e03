"""Ending a job without its work, and notes."""

from django import forms

from jobs.states import JobState
from shop.forms import PlainForm


class CloseForm(PlainForm):
    state = forms.ChoiceField(
        label="What happened",
        choices=[(each.value, each.label) for each in (JobState.CALLED_OFF, JobState.TURNED_AWAY, JobState.NO_ANSWER)],
        widget=forms.RadioSelect,
        error_messages={"required": "Say which of the three it was."},
    )
    reason = forms.CharField(
        max_length=200, error_messages={"required": "Say why, in a few words."}, help_text="It stays with the job."
    )


class NoteForm(PlainForm):
    words = forms.CharField(
        label="Note",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Write the note first."},
    )
