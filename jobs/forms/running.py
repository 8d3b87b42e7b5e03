"""What the technician enters while a procedure runs, on the phone."""

from datetime import timedelta
from typing import Any

from django import forms

from jobs.models import Light, RunOutcome
from shop.forms import PlainForm
from vehicles.models import Variant, VehicleFamily

LONGEST = 300


class MarkForm(PlainForm):
    """A mark on a step. `ago` is how many seconds before the sending the phone saw it done; its clock may be wrong."""

    step = forms.IntegerField(widget=forms.HiddenInput)
    client_id = forms.UUIDField(widget=forms.HiddenInput)
    is_begin = forms.BooleanField(required=False, widget=forms.HiddenInput)
    measured = forms.CharField(required=False, max_length=30)
    reason = forms.CharField(required=False, max_length=LONGEST)
    note = forms.CharField(required=False, max_length=LONGEST)
    immobilizer_light = forms.ChoiceField(choices=[("", ""), *Light.choices], required=False)
    alarm_light = forms.ChoiceField(choices=[("", ""), *Light.choices], required=False)
    ago = forms.FloatField(required=False, min_value=0, max_value=7 * 86_400)

    @property
    def age(self) -> timedelta:
        return timedelta(seconds=self.cleaned_data.get("ago") or 0)


class EndForm(PlainForm):
    """What came of a run. The immobilizer's light and the alarm's are two questions."""

    outcome = forms.ChoiceField(label="Did it work?", choices=RunOutcome.choices, widget=forms.RadioSelect)
    why = forms.CharField(
        label="Why not, or what took long",
        max_length=LONGEST,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The next one reads this before setting off.",
    )
    variant = forms.ModelChoiceField(
        Variant.objects.none(), label="Which variant was it?", required=False, empty_label="Could not tell"
    )
    keys_learned = forms.IntegerField(label="Keys learned", min_value=0, max_value=20, required=False)
    start_tried_with = forms.IntegerField(
        label="Keys that started it", min_value=0, max_value=20, required=False, help_text="Try the start with each."
    )
    immobilizer_light = forms.ChoiceField(
        label="Immobilizer's light, ignition on", choices=Light.choices, required=False, widget=forms.RadioSelect
    )
    alarm_light = forms.ChoiceField(
        label="Alarm's light", choices=Light.choices, required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, family: VehicleFamily, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        variants = family.variants.filter(is_active=True)
        if variants:
            self.fields["variant"].queryset = variants  # type: ignore[attr-defined]
        else:
            del self.fields["variant"]
