"""Every fact and setting of the shop, in groups."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from zoneinfo import available_timezones

import phonenumbers
from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from shop.forms import ClockInput, PhoneInput, PlainForm
from shop.geo import PlaceError, parse_place
from shop.models import PaperSize, Shop, TaxRoundingMode, TaxRoundingScope
from shop.money import MINOR_UNITS
from shop.phones import PhoneError, read_phone, shown

# Amounts are kept with two decimals, so a currency that divides further could not be kept exactly.
MOST_DECIMALS = 2
CURRENCIES = [(code, code) for code in sorted(MINOR_UNITS) if MINOR_UNITS[code] <= MOST_DECIMALS]


@dataclass(frozen=True)
class Group:
    """Fields that belong together, with words of caution above them where there is something to mind."""

    title: str
    words: str
    fields: dict[str, str]
    caution: str = ""


GROUPS = (
    Group(
        "The shop",
        "Printed on every paper.",
        {"name": "two-thirds", "licence_number": "third", "street": "", "town": "half", "postcode": "quarter"}
        | {"country": "quarter", "phone": "half", "email": "half", "place": ""},
        "Whether a locksmith needs a licence, and where its number must stand, differs by place. Local law decides.",
    ),
    Group(
        "Money and tax",
        "For prices, invoices and margins.",
        {"currency": "quarter", "tax_number": "half", "payment_terms_days": "quarter", "tax_rounding_mode": "half"}
        | {"tax_rounding_scope": "half", "card_fee_percent": "quarter", "travel_cost_per_km": "quarter"}
        | {"guarantee_days": "quarter"},
        "How tax is rounded and what an invoice must say differ by place: ask your tax office. A new currency holds "
        "for new papers only; those that are written keep theirs, and the price book keeps its figures.",
    ),
    Group("Papers", "", {"paper_size": "quarter", "invoice_words": ""}),
    Group(
        "The day",
        "For the day sheet and what callers are told.",
        {"time_zone": "half", "day_starts": "quarter", "day_ends": "quarter", "promise_minutes": "quarter"}
        | {"drive_speed_kmh": "quarter", "emergency_number": "quarter"},
        "The emergency number is shown when somebody is locked in: look up which one holds where you work.",
    ),
)


class ShopForm(PlainForm):
    name = forms.CharField(label="Name", max_length=120)
    licence_number = forms.CharField(label="Licence number", required=False, max_length=60)
    street = forms.CharField(label="Street and number", required=False, max_length=200)
    town = forms.CharField(label="Town", required=False, max_length=120)
    postcode = forms.CharField(label="Postcode", required=False, max_length=20)
    country = forms.CharField(label="Country", max_length=2, help_text="Two letters, like US or DE; phones read by it.")
    phone = forms.CharField(label="Phone", required=False, max_length=60, widget=PhoneInput)
    email = forms.EmailField(label="E-mail", required=False)
    place = forms.CharField(
        label="Where the vans start",
        required=False,
        max_length=2000,
        help_text="Coordinates like 52.5163, 13.3777, a geo: address or a map link. For distances.",
    )
    currency = forms.ChoiceField(label="Currency", choices=CURRENCIES)
    tax_number = forms.CharField(label="Tax number", required=False, max_length=60)
    payment_terms_days = forms.IntegerField(label="Days to pay", min_value=0, max_value=365)
    tax_rounding_mode = forms.ChoiceField(label="Round tax", choices=TaxRoundingMode)
    tax_rounding_scope = forms.ChoiceField(label="Round tax for", choices=TaxRoundingScope)
    card_fee_percent = forms.DecimalField(
        label="Card fee, percent", min_value=Decimal("0"), max_value=Decimal("50"), max_digits=5, decimal_places=2
    )
    travel_cost_per_km = forms.DecimalField(
        label="Cost of a kilometre", min_value=Decimal("0"), max_digits=8, decimal_places=3
    )
    guarantee_days = forms.IntegerField(
        label="Guarantee, days",
        min_value=0,
        max_value=3650,
        help_text="So long after its finish a job can be chosen as what a comeback comes back after.",
    )
    paper_size = forms.ChoiceField(label="Paper", choices=PaperSize)
    invoice_words = forms.CharField(
        label="Words at the foot of invoices",
        required=False,
        max_length=2000,
        widget=forms.Textarea({"rows": 3}),
        help_text="Bank details, guarantee, whatever your place asks for.",
    )
    time_zone = forms.CharField(
        label="Time zone",
        max_length=64,
        widget=forms.TextInput({"list": "time-zones", "autocomplete": "off", "spellcheck": "false"}),
        help_text="Like Europe/Berlin.",
    )
    day_starts = forms.TimeField(label="Day sheet from", widget=ClockInput)
    day_ends = forms.TimeField(label="Until", widget=ClockInput)
    promise_minutes = forms.IntegerField(
        label="Usual window, min", min_value=5, max_value=720, help_text="How wide a time is promised."
    )
    drive_speed_kmh = forms.IntegerField(
        label="Usual speed, km/h", min_value=5, max_value=130, help_text="For rough driving times."
    )
    emergency_number = forms.RegexField(
        r"^[0-9 ]{2,20}$", label="Emergency number", error_messages={"invalid": "Only digits, like 112."}
    )

    def clean_country(self) -> str:
        country: str = self.cleaned_data["country"].upper()
        if country not in phonenumbers.SUPPORTED_REGIONS:
            raise ValidationError(f"“{country}” is not the two letters of a country.", code="unknown")
        return country

    def clean_time_zone(self) -> str:
        zone: str = self.cleaned_data["time_zone"]
        if zone not in available_timezones():
            raise ValidationError(f"“{zone}” is no time zone: pick one of the list.", code="unknown")
        return zone

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        starts, ends = cleaned.get("day_starts"), cleaned.get("day_ends")
        if starts and ends and starts >= ends:
            self.add_error("day_ends", "The day ends before it begins.")
        self._read("phone", lambda text: read_phone(text, region=cleaned["country"]).e164 if text else "")
        self._read("place", lambda text: parse_place(text).at_places() if text else None)
        return cleaned

    def _read(self, name: str, read: Any) -> None:
        # Not in clean_<name>: the phone is read by the country typed in the same form.
        if name not in self.cleaned_data or "country" in self.errors:
            return
        try:
            self.cleaned_data[name] = read(self.cleaned_data[name])
        except (PhoneError, PlaceError) as error:
            self.add_error(name, str(error))

    @property
    def facts(self) -> dict[str, Any]:
        """The cleaned facts as `shop.actions.change_shop` takes them."""
        facts = dict(self.cleaned_data)
        point = facts.pop("place")
        return {**facts, "latitude": point.lat if point else None, "longitude": point.lon if point else None}

    @property
    def groups(self) -> Iterator[tuple[Group, list[tuple[BoundField, str]]]]:
        for group in GROUPS:
            yield group, [(self[name], size) for name, size in group.fields.items()]

    @staticmethod
    def facts_of(shop: Shop) -> dict[str, Any]:
        facts = {name: getattr(shop, name) for name in ShopForm.base_fields if name != "place"}
        place = "" if shop.latitude is None else f"{shop.latitude}, {shop.longitude}"
        phone = shown(shop.phone, region=shop.country) if shop.phone else ""
        return {**facts, "place": place, "phone": phone}
