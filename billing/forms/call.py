"""The call slip: what the office writes down while a caller is on the line."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from billing.calls import CallFacts
from billing.forms.figures import FiguresField
from jobs.actions.calls import check_comeback
from jobs.forms.comeback import ComebackField
from jobs.forms.fields import YEARS, on_the_wall
from jobs.models import Job, Payer
from jobs.states import KindOfWork, LockedIn
from shop.customers.models import Customer, CustomerKind
from shop.errors import Refused
from shop.forms import ClockInput, CodeInput, DayInput, PhoneField, PhoneInput, PlainForm
from shop.geo import PlaceError, Point, parse_place
from vehicles.models import Vehicle
from vehicles.vin import read_vin

LONGEST_PROMISE = timedelta(hours=12)
STEP_MINUTES = 5
LONGEST_ID = 19


def round_up(moment: datetime, minutes: int = STEP_MINUTES) -> datetime:
    """The next full five minutes by the clock, which is how a time is told."""
    rest = timedelta(minutes=moment.minute % minutes, seconds=moment.second, microseconds=moment.microsecond)
    return moment + (timedelta(minutes=minutes) - rest if rest else timedelta())


def usual_promise(now: datetime, minutes: int) -> dict[str, str]:
    """What the fields of a promise say at first: from now for as long as the shop usually takes."""
    # Counted in UTC: on the night when clocks change, an hour on the wall is no hour.
    begins = round_up(now.astimezone(UTC))
    start, end = timezone.localtime(begins), timezone.localtime(begins + timedelta(minutes=minutes))
    return {
        "promise_day": f"{start:%Y-%m-%d}",
        "promise_from": f"{start:%H:%M}",
        "promise_until": f"{end:%H:%M}",
    }


class CallForm(PlainForm):
    """The whole slip. Prices are lines beside it (`billing.forms.lines`)."""

    customer = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)
    phone = PhoneField(
        required=False,
        max_length=60,
        label="Number, name, plate or VIN",
        widget=PhoneInput(attrs={"inputmode": "text", "data-walk-into": "#callers"}),
    )
    name = forms.CharField(required=False, max_length=160, label="Name")
    is_account = forms.BooleanField(required=False, label="Account customer")
    caller_name = forms.CharField(required=False, max_length=100, label="Who is calling")

    locked_in = forms.ChoiceField(
        choices=LockedIn, widget=forms.RadioSelect, label="Is anyone locked in?", initial=LockedIn.NOBODY
    )

    street = forms.CharField(required=False, max_length=200, label="Street, or where to look")
    town = forms.CharField(required=False, max_length=120, label="Town")
    access_notes = forms.CharField(required=False, max_length=300, label="Way in: level, gate code, dog")
    coordinates = forms.CharField(required=False, max_length=2000, label="Coordinates or map link")
    km = FiguresField(
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(2000),
        max_digits=6,
        decimal_places=1,
        label="Km by road",
    )
    keep_address = forms.BooleanField(required=False, label="Keep this place for the customer")

    vehicle = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)
    plate = forms.CharField(required=False, max_length=16, label="Plate", widget=CodeInput)
    vin = forms.CharField(required=False, max_length=40, label="VIN", widget=CodeInput)
    year = forms.IntegerField(
        required=False, min_value=1900, label="Year", widget=forms.TextInput(attrs={"inputmode": "numeric"})
    )
    make = forms.CharField(required=False, max_length=60, label="Make")
    model = forms.CharField(required=False, max_length=60, label="Model")
    colour = forms.CharField(required=False, max_length=30, label="Colour")

    kind_of_work = forms.ChoiceField(
        choices=KindOfWork,
        widget=forms.RadioSelect,
        label="Kind of work",
        error_messages={"required": "Choose the kind of work."},
    )
    comeback_of = ComebackField()
    description = forms.CharField(
        required=False, max_length=2000, label="What happened", widget=forms.Textarea(attrs={"rows": 2})
    )
    owner_name = forms.CharField(required=False, max_length=100, label="Who owns it")
    proof_offered = forms.CharField(required=False, max_length=200, label="How can that be shown")

    promise_day = forms.DateField(label="Day", widget=DayInput)
    promise_from = forms.TimeField(label="From", widget=ClockInput)
    promise_until = forms.TimeField(label="Until", widget=ClockInput)

    payer = forms.ChoiceField(choices=Payer, widget=forms.RadioSelect, label="Who pays", initial=Payer.CALLER)
    payer_note = forms.CharField(required=False, max_length=200, label="Who else")
    purchase_order = forms.CharField(required=False, max_length=60, label="Purchase order")

    is_accepted = forms.BooleanField(required=False, label="The caller accepts this price")
    accepted_by = forms.CharField(
        required=False,
        max_length=100,
        label="Accepted by",
        widget=forms.TextInput(attrs={"placeholder": "The caller"}),
    )

    def __init__(self, typed: Mapping[str, Any] | None = None, *, now: datetime | None = None, **kwargs: Any) -> None:
        self.now = now or timezone.now()
        super().__init__(typed, **kwargs)
        self._offer_comebacks()

    def _offer_comebacks(self) -> None:
        customer = str(self.data.get("customer") or self.initial.get("customer") or "")
        field = self.fields["comeback_of"]
        assert isinstance(field, ComebackField)
        if customer.isdecimal() and len(customer) < LONGEST_ID:
            field.offer(int(customer), at=self.now)

    def clean_customer(self) -> Customer | None:
        pk = self.cleaned_data["customer"]
        if pk is None:
            return None
        customer: Customer | None = Customer.objects.with_contacts().filter(pk=pk).first()
        if customer is None:
            raise ValidationError("This customer is no longer there. Find the caller again.")
        return customer

    def clean_vehicle(self) -> Vehicle | None:
        pk = self.cleaned_data["vehicle"]
        return None if pk is None else Vehicle.objects.filter(pk=pk).first()

    def clean_coordinates(self) -> Point | None:
        text = self.cleaned_data["coordinates"]
        if not text:
            return None
        try:
            return parse_place(text).at_places()
        except PlaceError as error:
            raise ValidationError(str(error)) from None

    def clean_promise_day(self) -> date:
        day: date = self.cleaned_data["promise_day"]
        if day.year not in YEARS:
            raise ValidationError("Check the year.", code="invalid")
        return day

    def clean_vin(self) -> str:
        text = self.cleaned_data["vin"]
        if not text:
            return ""
        reading = read_vin(text)
        if not reading.is_well_formed:
            raise ValidationError(" ".join(reading.warnings))
        return reading.vin

    def clean_year(self) -> int | None:
        year: int | None = self.cleaned_data["year"]
        if year is not None and year > timezone.localdate(self.now).year + 1:
            raise ValidationError("No vehicle of that year exists yet.")
        return year

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        self._check_caller(facts)
        self._check_vehicle(facts)
        self._check_comeback(facts)
        self._check_payer(facts)
        self._check_promise(facts)
        return facts

    def _check_caller(self, facts: dict[str, Any]) -> None:
        customer = facts.get("customer") or self._who_has_this_number(facts)
        if customer:
            facts["customer"] = customer
        if "phone" in facts and not facts["phone"] and not (customer and customer.phones.all()):
            self.add_error("phone", "Which number can be called back?")

    def _who_has_this_number(self, facts: dict[str, Any]) -> Customer | None:
        """The one customer with the number typed, when no other name was: the call was quicker than the search."""
        if not facts.get("phone") or self.errors.get("customer"):
            return None
        found = list(Customer.objects.reached_by(facts["phone"]).with_contacts()[:2])
        name = " ".join(facts.get("name", "").split()).casefold()
        return found[0] if len(found) == 1 and name in {"", found[0].name.casefold()} else None

    def _check_vehicle(self, facts: dict[str, Any]) -> None:
        vehicle, customer = facts.get("vehicle"), facts.get("customer")
        if vehicle and vehicle.customer_id and (not customer or vehicle.customer_id != customer.pk):
            self.add_error("plate", "That vehicle belongs to another customer. Choose again.")
        only_loose = (facts.get("colour") or facts.get("year")) and not any(
            facts.get(name) for name in ("plate", "vin", "make", "model")
        )
        if not vehicle and only_loose and not self.errors.get("vin"):
            self.add_error("make", "Give a plate, a VIN, a make or a model too.")

    def _check_comeback(self, facts: dict[str, Any]) -> None:
        first, customer = facts.get("comeback_of"), facts.get("customer")
        if first is None:
            return
        try:
            if customer is None:
                raise Refused("Find the caller first: only their own jobs can come back.", field="comeback_of")
            check_comeback(first, customer=customer, vehicle=facts.get("vehicle"))
        except Refused as refused:
            self.add_error("comeback_of", str(refused))

    def _check_payer(self, facts: dict[str, Any]) -> None:
        customer = facts.get("customer")
        has_account = customer.kind == CustomerKind.ACCOUNT if customer else facts.get("is_account")
        if facts.get("payer") == Payer.ACCOUNT and not has_account and "customer" in facts:
            self.add_error("payer", "This caller is no account customer. Who pays?")
        if facts.get("payer") == Payer.OTHER and not facts.get("payer_note"):
            self.add_error("payer_note", "Who pays, and where does the invoice go?")
        if facts.get("is_account") and not customer and not facts.get("name"):
            self.add_error("name", "An account customer needs a name.")

    def _check_promise(self, facts: dict[str, Any]) -> None:
        parts = [facts.get(name) for name in ("promise_day", "promise_from", "promise_until")]
        if any(part is None for part in parts):
            return
        try:
            start, end = promise_of(*parts)  # type: ignore[arg-type]
        except ValidationError as error:
            self.add_error("promise_from", error)
            return
        if end - start > LONGEST_PROMISE:
            self.add_error("promise_until", "That is more than 12 hours. Check the times.")
        elif end < self.now:
            self.add_error("promise_until", "That time has passed. Tell a new one.")
        facts["promise"] = (start, end)

    def facts(self) -> CallFacts:
        """The checked call in the words of the domain."""
        told = self.cleaned_data
        customer: Customer | None = told["customer"]
        first: Job | None = told["comeback_of"]
        phone = told["phone"] or (customer.phones.all()[0].number if customer else "")
        name = told["name"] or told["caller_name"]
        vehicle = {name: told[name] for name in ("plate", "vin", "year", "make", "model", "colour") if told[name]}
        return CallFacts(
            customer=customer,
            vehicle=told["vehicle"] or (first.vehicle if first and not vehicle else None),
            new_customer={} if customer else self._new_customer(name, phone),
            new_vehicle={} if told["vehicle"] else vehicle,
            new_address=self._place() if told["keep_address"] and told["street"] else {},
            job=self._job(phone, told["caller_name"] or (customer.name if customer else told["name"])),
            accepted_by=self._accepted_by(customer),
        )

    def _new_customer(self, name: str, phone: str) -> dict[str, Any]:
        kind = CustomerKind.ACCOUNT if self.cleaned_data["is_account"] else CustomerKind.PERSON
        # A caller in a hurry gives no name: the number stands for it until somebody asks.
        return {"name": name or f"Caller {phone}", "kind": kind, "phones": [(phone, "")]}

    def _place(self) -> dict[str, Any]:
        told = self.cleaned_data
        point: Point | None = told["coordinates"]
        return {
            "street": told["street"],
            "town": told["town"],
            "access_notes": told["access_notes"],
            "latitude": point.lat if point else None,
            "longitude": point.lon if point else None,
        }

    def _job(self, phone: str, caller_name: str) -> dict[str, Any]:
        told = self.cleaned_data
        names = (
            "kind_of_work",
            "comeback_of",
            "locked_in",
            "description",
            "owner_name",
            "proof_offered",
            "payer",
            "payer_note",
            "purchase_order",
        )
        start, end = told["promise"]
        return {
            **{name: told[name] for name in names},
            **self._place(),
            "caller_name": caller_name[:100],
            "caller_phone": phone,
            "promise_from": start,
            "promise_until": end,
        }

    def _accepted_by(self, customer: Customer | None) -> str:
        told = self.cleaned_data
        if not told["is_accepted"]:
            return ""
        said = told["accepted_by"] or told["caller_name"] or told["name"] or (customer.name if customer else "")
        return (said or "The caller")[:100]


def promise_of(day: date, start: clock_time, end: clock_time) -> tuple[datetime, datetime]:
    """The window of a promise in the shop's zone; an end before its start is on the next day.

    Raises ValidationError for a time that the clocks leave out.
    """
    last = day + timedelta(days=1) if end < start else day
    return on_the_wall(datetime.combine(day, start)), on_the_wall(datetime.combine(last, end))
