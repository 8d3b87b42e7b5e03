"""Why guarded data is opened, and the owner's answer to an exception."""

from django import forms

from jobs.record_rules.rule import EXCEPTION_WORDS
from shop.forms import PlainForm


class ReasonForm(PlainForm):
    reason = forms.CharField(
        label="Why you open this",
        max_length=280,
        error_messages={"required": "Say why you open this. It is written down."},
    )


class AnswerForm(PlainForm):
    """The owner lets a job through, or does not. Whether a reason must be given is for the action to say."""

    exception = forms.ChoiceField(label="Which exception", choices=list(EXCEPTION_WORDS.items()))
    reason = forms.CharField(label="Why", max_length=300, required=False)
