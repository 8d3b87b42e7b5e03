"""The technician's forms at the end of a visit."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from billing.forms.figures import FiguresField
from jobs.forms.fields import MomentField
from jobs.models import Visit
from shop.forms import CodeInput, PlainForm
from vehicles.vin import read_vin


class FinishForm(PlainForm):
    """What a finished visit has: times, what was done, the VIN, the parts or that none were used."""

    set_off_at = MomentField(required=False, label="Set off")
    arrived_at = MomentField(label="Arrived")
    finished_at = MomentField(label="Finished")
    words = forms.CharField(
        required=False,
        max_length=2000,
        label="What was done",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    vin = forms.CharField(required=False, max_length=40, label="VIN", widget=CodeInput)
    nothing_used = forms.BooleanField(required=False, label="Nothing was used")
    drive_km = FiguresField(
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(2000),
        max_digits=6,
        decimal_places=1,
        label="Km driven, there and back",
    )
    needs_another_visit = forms.BooleanField(required=False, label="Another visit is needed")

    def __init__(self, *args: Any, visit: Visit, asks_parts: bool, asks_vin: bool, **kwargs: Any) -> None:
        self.visit = visit
        super().__init__(*args, **kwargs)
        if not asks_parts:
            del self.fields["nothing_used"]
        if not asks_vin:
            del self.fields["vin"]

    def clean_vin(self) -> str:
        text = self.cleaned_data["vin"]
        if not text:
            return ""
        reading = read_vin(text)
        if not reading.is_well_formed:
            raise ValidationError(" ".join(reading.warnings))
        return reading.vin

    def clean_finished_at(self) -> datetime:
        moment: datetime = self._later_if_past(self.cleaned_data["finished_at"])
        if moment > timezone.now() + timedelta(minutes=1):
            raise ValidationError("This time is still to come.")
        return self._seconds_kept("finished_at", moment)

    def clean_arrived_at(self) -> datetime:
        return self._seconds_kept("arrived_at", self.cleaned_data["arrived_at"])

    def clean_set_off_at(self) -> datetime | None:
        moment = self.cleaned_data["set_off_at"]
        return self._seconds_kept("set_off_at", moment) if moment else None

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        arrived, finished = facts.get("arrived_at"), facts.get("finished_at")
        if arrived and finished and timedelta(0) < arrived - finished < timedelta(minutes=1):
            # The form shows whole minutes: within one, the finish follows the arrival.
            facts["finished_at"] = arrived
        if "nothing_used" in self.fields and not facts.get("nothing_used") and not facts.get("needs_another_visit"):
            self.add_error("nothing_used", "Book the blank or part on the job, or tick that nothing was used.")
        return facts

    def _seconds_kept(self, name: str, moment: datetime) -> datetime:
        """The time as it was tapped, when the minute shown was left as it is."""
        tapped: datetime | None = getattr(self.visit, name)
        return tapped if tapped and _shown(tapped) == _shown(moment) else moment

    def _later_if_past(self, moment: datetime) -> datetime:
        """Of an hour that is lived twice the later reading, once that has passed: a visit is finished about now."""
        later = timezone.localtime(moment).replace(fold=1).astimezone(UTC)
        return later if later <= timezone.now() else moment


def _shown(moment: datetime) -> datetime:
    """The minute that a clock on the wall shows."""
    return timezone.localtime(moment).replace(second=0, microsecond=0, tzinfo=None)


class HandOverForm(PlainForm):
    keys = forms.IntegerField(
        min_value=0,
        max_value=99,
        label="Keys counted into the customer's hand",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "figures"}),
        error_messages={"required": "Count the keys; none is 0."},
    )
    is_shown_to_work = forms.BooleanField(required=False, label="Every key and every function was shown to work")
    words = forms.CharField(required=False, max_length=300, label="What did not, and why")
