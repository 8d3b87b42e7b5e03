"""Ending a job without its work, and notes. Their few fields are written out in templates/jobs/day."""

from django import forms

from jobs.states import JobState
from shop.forms import PlainForm


class CloseForm(PlainForm):
    CHOICES = [(each.value, each.label) for each in (JobState.CALLED_OFF, JobState.TURNED_AWAY, JobState.NO_ANSWER)]

    state = forms.ChoiceField(
        choices=CHOICES,
        error_messages={
            "required": "Say which of the three it was.",
            "invalid_choice": "Say which of the three it was.",
        },
    )
    reason = forms.CharField(max_length=200, error_messages={"required": "Say why, in a few words."})


class NoteForm(PlainForm):
    words = forms.CharField(max_length=4000, error_messages={"required": "Write the note first."})
