"""Every part of a page on one page, for whoever builds or mends one."""

from datetime import timedelta
from decimal import Decimal

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from shop.forms import CodeInput, DayClockInput, MoneyField, PhoneField, PlainForm
from shop.staff.access import owner

STATES = (
    "waiting",
    "booked",
    "on_the_way",
    "on_site",
    "finished",
    "called_off",
    "turned_away",
    "no_answer",
)


class SpecimenForm(PlainForm):
    """One field of each kind."""

    phone = PhoneField(label="Phone")
    name = forms.CharField(label="Name", required=False)
    plate = forms.CharField(label="Plate", widget=CodeInput, required=False)
    price = MoneyField(label="Price told", help_text="Before tax.")
    when = forms.DateTimeField(label="Promised from", widget=DayClockInput)
    work = forms.ChoiceField(
        label="Kind of work", choices=[("", "Choose"), ("lock_out", "Lock-out"), ("rekey", "Rekey")], required=False
    )
    who = forms.ChoiceField(
        label="Locked in",
        choices=[("nobody", "Nobody"), ("child", "A child"), ("animal", "An animal")],
        widget=forms.RadioSelect,
    )
    notes = forms.CharField(label="Notes", widget=forms.Textarea(attrs={"rows": 3}), required=False)
    is_account = forms.BooleanField(label="Goes on the monthly statement", required=False)


@owner
@require_safe
def specimen(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/specimen.html", parts())


@owner
@require_safe
def phone_specimen(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/specimen_phone.html", parts())


@owner
@require_safe
def paper_specimen(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/specimen_paper.html", parts())


def parts() -> dict[str, object]:
    """What the specimen pages show."""
    now = timezone.now()
    refused = SpecimenForm({"phone": "call me", "price": "12.345", "when": "", "who": "child"})
    refused.is_valid()
    refused.add_error(None, "This time was booked by somebody else a moment ago. Your call is kept.")
    new = SpecimenForm(initial={"when": now + timedelta(hours=1), "who": "nobody"}, prefix="new")
    return {
        "states": STATES,
        "refused": refused,
        "forms_shown": [new, refused],
        "now": now,
        "later": now + timedelta(days=400),
        "amount": Decimal("1234.50"),
        "small_amount": Decimal("86.00"),
        "vin": "1M8GDM9AXKP042788",
    }
