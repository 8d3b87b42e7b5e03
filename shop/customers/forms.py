"""A customer with numbers and e-mails, and one address."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BaseFormSet, formset_factory

from shop.customers.models import Address, Customer, CustomerKind
from shop.errors import Refused
from shop.forms import PhoneField, PlainForm
from shop.geo import PlaceError, Point, parse_place
from shop.models import Shop
from shop.phones import shown

if TYPE_CHECKING:
    _FormSet = BaseFormSet[Any]
else:
    _FormSet = BaseFormSet

MOST_LINES = 20


class CustomerForm(PlainForm):
    name = forms.CharField(label="Name", max_length=160)
    kind = forms.ChoiceField(label="Kind", choices=CustomerKind, widget=forms.RadioSelect, initial=CustomerKind.PERSON)
    contact_name = forms.CharField(
        label="Contact", required=False, max_length=100, help_text="Whom to ask for at a business."
    )
    warning = forms.CharField(
        label="Warning", required=False, max_length=300, help_text="Shown as soon as this customer calls."
    )
    terms_days = forms.IntegerField(
        label="Days to pay", min_value=0, max_value=365, initial=0, help_text="0 means the usual days of the shop."
    )
    tax_number = forms.CharField(label="Tax number", required=False, max_length=60)
    billing_address = forms.CharField(
        label="Address for invoices",
        required=False,
        max_length=1000,
        widget=forms.Textarea({"rows": 3}),
        help_text="Where it differs from the place of the work.",
    )
    notes = forms.CharField(label="Notes", required=False, max_length=4000, widget=forms.Textarea({"rows": 3}))

    @staticmethod
    def facts_of(customer: Customer) -> dict[str, Any]:
        return {name: getattr(customer, name) for name in CustomerForm.base_fields}


class PhoneLine(PlainForm):
    number = PhoneField(label="Phone", required=False, max_length=60)
    label = forms.CharField(label="Whose or where", required=False, max_length=40)

    def clean(self) -> dict[str, Any]:
        return _with_number(self, "number", "Type the number, or clear the words beside it.")


class EmailLine(PlainForm):
    address = forms.EmailField(label="E-mail", required=False, widget=forms.EmailInput({"autocomplete": "off"}))
    label = forms.CharField(label="Whose or what for", required=False, max_length=40)

    def clean(self) -> dict[str, Any]:
        return _with_number(self, "address", "Type the e-mail, or clear the words beside it.")


def _with_number(form: PlainForm, name: str, words: str) -> dict[str, Any]:
    cleaned = form.cleaned_data
    if cleaned.get("label") and not cleaned.get(name) and name not in form.errors:
        form.add_error(name, words)
    return cleaned


class Lines(_FormSet):
    """Lines of which the empty ones do not count, and of which none may stand twice."""

    field = ""
    words = ""

    def clean(self) -> None:
        seen: set[str] = set()
        for form in self.forms:
            value = form.cleaned_data.get(self.field, "") if form.is_valid() else ""
            if value and value.lower() in seen:
                form.add_error(self.field, self.words)
            seen.add(value.lower())

    @property
    def filled(self) -> list[tuple[str, str]]:
        """The lines as the actions take them."""
        lines = [(form.cleaned_data.get(self.field, ""), form.cleaned_data.get("label", "")) for form in self.forms]
        return [line for line in lines if line[0]]


class PhoneLines(Lines):
    field = "number"
    words = "This number stands above already."


class EmailLines(Lines):
    field = "address"
    words = "This e-mail stands above already."


_LIMITS: dict[str, Any] = {"extra": 1, "max_num": MOST_LINES, "absolute_max": MOST_LINES, "validate_max": True}
PhoneFormSet = formset_factory(PhoneLine, formset=PhoneLines, **_LIMITS)
EmailFormSet = formset_factory(EmailLine, formset=EmailLines, **_LIMITS)


class CustomerForms:
    """The customer's own form with its lines of numbers and e-mails: one page, one button."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, customer: Customer | None = None) -> None:
        typed = self._with_room(data) if data else None
        facts = CustomerForm.facts_of(customer) if customer else None
        self.main = CustomerForm(typed, initial=facts)
        self.phones = cast(Lines, PhoneFormSet(typed, prefix="phones", initial=_phones_of(customer)))
        self.emails = cast(Lines, EmailFormSet(typed, prefix="emails", initial=_emails_of(customer)))

    def refuse(self, refused: Refused) -> None:
        """Shows a rule's refusal above the form, or beside a field of the customer's own."""
        self.main.refuse(refused)

    def is_valid(self) -> bool:
        # Every part is looked at, so that all errors show at once.
        return all([self.main.is_valid(), self.phones.is_valid(), self.emails.is_valid()])

    @property
    def facts(self) -> dict[str, Any]:
        return {**self.main.cleaned_data, "phones": self.phones.filled, "emails": self.emails.filled}

    @staticmethod
    def _with_room(data: Mapping[str, Any]) -> Mapping[str, Any]:
        """What was typed, with one more empty line where the button for one was pressed."""
        grows = data.get("grow")
        if grows not in {"phones", "emails"}:
            return data
        grown = data.copy()  # type: ignore[attr-defined]
        count = grown.get(f"{grows}-TOTAL_FORMS", "")
        if count.isdecimal():
            grown[f"{grows}-TOTAL_FORMS"] = str(min(int(count[:3]) + 1, MOST_LINES))
        return cast(Mapping[str, Any], grown)


def _phones_of(customer: Customer | None) -> list[dict[str, str]]:
    if customer is None:
        return []
    region = Shop.current().country
    return [{"number": shown(each.number, region=region), "label": each.label} for each in customer.phones.all()]


def _emails_of(customer: Customer | None) -> list[dict[str, str]]:
    return [{"address": each.address, "label": each.label} for each in customer.emails.all()] if customer else []


class AddressForm(PlainForm):
    label = forms.CharField(label="Name of the place", required=False, max_length=60, help_text="Home, yard, office.")
    street = forms.CharField(label="Street and number", max_length=200)
    postcode = forms.CharField(label="Postcode", required=False, max_length=20)
    town = forms.CharField(label="Town", required=False, max_length=120)
    access_notes = forms.CharField(
        label="Getting in", required=False, max_length=300, help_text="Gate code, level of the car park, dog."
    )
    place = forms.CharField(
        label="Coordinates",
        required=False,
        max_length=2000,
        help_text="Typed like 52.5163, 13.3777, or paste a geo: address or a map link.",
        widget=forms.TextInput({"autocomplete": "off", "spellcheck": "false"}),
    )

    def clean_place(self) -> Point | None:
        typed = self.cleaned_data["place"]
        if not typed:
            return None
        try:
            return parse_place(typed).at_places()
        except PlaceError as error:
            raise ValidationError(str(error), code="unreadable") from None

    @property
    def facts(self) -> dict[str, Any]:
        """The cleaned facts as `actions.add_address` takes them."""
        facts = dict(self.cleaned_data)
        point = facts.pop("place")
        return {**facts, "latitude": point.lat if point else None, "longitude": point.lon if point else None}

    @staticmethod
    def facts_of(address: Address) -> dict[str, Any]:
        facts = {name: getattr(address, name) for name in AddressForm.base_fields if name != "place"}
        place = "" if address.latitude is None else f"{address.latitude}, {address.longitude}"
        return {**facts, "place": place}
