"""Changing what is known about a job."""

from typing import Any

from django import forms
from django.db.models import Q

from jobs.forms.comeback import ComebackField
from jobs.forms.fields import MomentField
from jobs.models import Job, Payer
from jobs.rules import LONGEST_VISIT, SHORTEST_VISIT
from jobs.states import KindOfWork, LockedIn
from shop.forms import ChangeForm, PhoneField
from shop.geo import PlaceError, Point, parse_place
from vehicles.models import Vehicle

COPIED = (
    "kind_of_work",
    "vehicle",
    "comeback_of",
    "locked_in",
    "description",
    "caller_name",
    "caller_phone",
    "owner_name",
    "proof_offered",
    "payer",
    "payer_note",
    "purchase_order",
    "street",
    "town",
    "access_notes",
    "promise_from",
    "promise_until",
    "expected_minutes",
)
PROMISE = ("promise_from", "promise_until")


class JobFactsForm(ChangeForm):
    """`facts` is what `change_job` wants: what was typed over. The two ends of a promise go together."""

    kind_of_work = forms.ChoiceField(label="Kind of work", choices=KindOfWork.choices)
    locked_in = forms.ChoiceField(label="Locked in", choices=LockedIn.choices)
    vehicle = forms.ModelChoiceField(Vehicle.objects.none(), required=False, empty_label="No vehicle")
    comeback_of = ComebackField()
    description = forms.CharField(
        label="What happened", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )
    promise_from = MomentField(label="Promised from", required=False)
    promise_until = MomentField(label="Promised until", required=False)
    expected_minutes = forms.IntegerField(
        label="Expected minutes",
        min_value=int(SHORTEST_VISIT.total_seconds() // 60),
        max_value=int(LONGEST_VISIT.total_seconds() // 60),
        widget=forms.NumberInput(attrs={"step": 5, "inputmode": "numeric"}),
    )
    street = forms.CharField(required=False, max_length=200)
    town = forms.CharField(required=False, max_length=120)
    access_notes = forms.CharField(
        label="How to get in", required=False, max_length=300, help_text="Gate code, level of the car park, dog."
    )
    point = forms.CharField(
        label="Coordinates", required=False, max_length=2000, help_text="Typed, or a map link or geo: address pasted."
    )
    caller_name = forms.CharField(label="Caller", required=False, max_length=100)
    caller_phone = PhoneField(label="Caller's phone", required=False)
    owner_name = forms.CharField(
        label="Owner", required=False, max_length=100, help_text="Who owns the vehicle or building."
    )
    proof_offered = forms.CharField(label="How that can be shown", required=False, max_length=200)
    payer = forms.ChoiceField(label="Who pays", choices=Payer.choices)
    payer_note = forms.CharField(label="About the payment", required=False, max_length=200)
    purchase_order = forms.CharField(label="Their order number", required=False, max_length=60)

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {**{name: getattr(job, name) for name in COPIED}, "point": _point_text(job)})
        super().__init__(*args, **kwargs)
        vehicle = self.fields["vehicle"]
        assert isinstance(vehicle, forms.ModelChoiceField)
        own = Q(customer=job.customer_id) | Q(pk=job.vehicle_id or 0)
        vehicle.queryset = Vehicle.objects.filter(own).order_by("id")
        comeback = self.fields["comeback_of"]
        assert isinstance(comeback, ComebackField)
        comeback.offer(job.customer_id, at=job.called_at, kept=job.comeback_of_id)

    def clean_point(self) -> Point | None:
        typed = self.cleaned_data["point"]
        if not typed.strip():
            return None
        try:
            return parse_place(typed).at_places()
        except PlaceError as error:
            raise forms.ValidationError(str(error)) from None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        start, end = data.get("promise_from"), data.get("promise_until")
        if "promise_from" in data and "promise_until" in data:
            if bool(start) != bool(end):
                self.add_error("promise_until" if start else "promise_from", "A promise has a beginning and an end.")
            elif start and start > end:
                self.add_error("promise_until", "The end of the promise is before its beginning.")
        return data

    @property
    def facts(self) -> dict[str, Any]:
        names = {name for name in COPIED if self.is_typed_over(name)}
        names |= set(PROMISE) if names & set(PROMISE) else set()
        facts = {name: self.cleaned_data[name] for name in COPIED if name in names}
        if self.is_typed_over("point"):
            point: Point | None = self.cleaned_data["point"]
            facts |= {"latitude": point.lat if point else None, "longitude": point.lon if point else None}
        return facts


def _point_text(job: Job) -> str:
    if job.latitude is None or job.longitude is None:
        return ""
    return f"{job.latitude.normalize():f}, {job.longitude.normalize():f}"
