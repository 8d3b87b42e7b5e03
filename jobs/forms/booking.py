"""Booking a visit and moving it."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dateparse import parse_datetime

from jobs.forms.fields import MomentField
from jobs.rules import LONGEST_VISIT, SHORTEST_VISIT
from shop.forms import PlainForm
from shop.staff.models import Person

_MINUTE = timedelta(minutes=1)

Seen = tuple[int, datetime, datetime]


class BookForm(PlainForm):
    """Who, from when, how many minutes; `placed` is what `book_visit` and `move_visit` want.

    Its fields are written out in templates/jobs/day/place_fields.html, which the day sheet draws all the time.
    """

    technician = forms.ModelChoiceField(
        Person.objects.none(), empty_label=None, error_messages={"invalid_choice": "That is not a technician at work."}
    )
    start = MomentField()
    minutes = forms.IntegerField(
        min_value=SHORTEST_VISIT // _MINUTE,
        max_value=LONGEST_VISIT // _MINUTE,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        technician = self.fields["technician"]
        assert isinstance(technician, forms.ModelChoiceField)
        technician.queryset = Person.objects.technicians().order_by("name")

    @property
    def people(self) -> list[tuple[int, str, bool]]:
        """The technicians to choose from: id, name, and whether it is the one now chosen."""
        chosen = str(self["technician"].value() or "")
        everybody = Person.objects.technicians().order_by("name").values_list("pk", "name")
        return [(pk, name, str(pk) == chosen) for pk, name in everybody]

    @property
    def start_text(self) -> str:
        """The start as its input shows it: as it was sent, or the day and time in the shop's zone."""
        value = self["start"].value()
        return f"{value:%Y-%m-%dT%H:%M}" if isinstance(value, datetime) else str(value or "")

    @property
    def placed(self) -> dict[str, Any]:
        start: datetime = self.cleaned_data["start"]
        end = start + self.cleaned_data["minutes"] * _MINUTE
        return {"technician": self.cleaned_data["technician"], "start": start, "end": end}


class MoveForm(BookForm):
    """Booking anew; `seen` is where the sender saw the visit, so that nobody undoes another's move unknowingly."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean_seen(self) -> Seen | None:
        sent = self.cleaned_data["seen"]
        return read_seen(sent) if sent else None


def write_seen(technician_id: int, start: datetime, end: datetime) -> str:
    return f"{technician_id}/{start.isoformat()}/{end.isoformat()}"


def read_seen(sent: str) -> Seen:
    try:
        technician, start, end = sent.split("/")
        first, last = parse_datetime(start), parse_datetime(end)
        if not (first and first.tzinfo and last and last.tzinfo):
            raise ValueError
        return int(technician), first, last
    except ValueError:
        raise ValidationError("Load the page anew and try again.", code="invalid") from None
