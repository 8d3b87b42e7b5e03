"""Forms of families, variants and what is decided about procedures."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shop.errors import Refused
from shop.forms import CodeInput, PlainForm
from shop.pictures import read_picture
from shop.stock.models import Item
from vehicles.exchange import LARGEST_BYTES
from vehicles.families import FamilyFacts
from vehicles.finding import overlaps_among
from vehicles.models import KeySystemSheet, Variant, VehicleFamily
from vehicles.states import ItemRole, KindOfWork

_LINE = {"autocomplete": "off"}
_NO_YEARS = "From which year until which? Without years every car of the model would fit."


def _line(label: str, help_text: str = "", max_length: int = 300, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label, required=required, max_length=max_length, help_text=help_text, widget=forms.TextInput(_LINE)
    )


def _lines(label: str, help_text: str = "", rows: int = 3) -> forms.CharField:
    return forms.CharField(
        label=label, required=False, max_length=4000, help_text=help_text, widget=forms.Textarea({"rows": rows})
    )


class FamilyForm(PlainForm):
    make = _line("Make", max_length=60, required=True)
    name = _line("Family", "What the shop calls it: Wren, second shape.", max_length=80, required=True)
    model_names = _line("Models", "With commas between them.", required=True)
    year_from = forms.IntegerField(label="From year", error_messages={"required": _NO_YEARS})
    year_until = forms.IntegerField(
        label="Until year", error_messages={"required": _NO_YEARS}, help_text="The newest you have met."
    )
    market = _line("Market", "Empty: any.", max_length=60)
    vin_pattern = forms.CharField(
        label="VIN begins", required=False, max_length=40, widget=CodeInput, help_text="? stands for any character."
    )
    trial = _line("Trial key", "Item numbers, with commas between them.")
    transponder_items = _line("Transponder blank", "Item numbers.")
    fob = _line("Fob or remote", "Item numbers.")
    transponder = _line("Transponder kind", max_length=80)
    has_remote = forms.BooleanField(label="Key has a remote", required=False)
    key_system = forms.ModelChoiceField(
        label="Key system", queryset=KeySystemSheet.objects.none(), required=False, empty_label="Not known"
    )
    key_capacity = forms.IntegerField(label="Keys it can learn", required=False, min_value=1, max_value=99)
    code_place = _line("Where a code may be found")
    access_steps = _lines("How to get to it", "One step on a line.")
    access_tools = _line("Tools")
    access_caution = _line("Caution")
    is_near_airbag = forms.BooleanField(label="An airbag or its wiring is in the way", required=False)
    notes = _lines("Notes for the next technician")
    source = _line("Source", "A book, a bulletin, or who worked it out.")
    is_overlap_meant = forms.BooleanField(label="Keep it all the same", required=False)

    roles = {"trial": ItemRole.TRIAL, "transponder_items": ItemRole.TRANSPONDER, "fob": ItemRole.FOB}

    def __init__(self, *args: Any, family: VehicleFamily | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.family = family
        self.overlaps: list[VehicleFamily] = []
        systems = KeySystemSheet.objects.in_use() | KeySystemSheet.objects.filter(families=family)
        self.fields["key_system"].queryset = systems.distinct().order_by("name")  # type: ignore[attr-defined]

    def clean_model_names(self) -> list[str]:
        return [
            " ".join(name.split())[:60]
            for name in re.split(r"[,;\n]", self.cleaned_data["model_names"])
            if name.strip()
        ]

    def clean_vin_pattern(self) -> str:
        return "".join(self.cleaned_data["vin_pattern"].upper().split())

    def clean_trial(self) -> list[Item]:
        return self._items("trial")

    def clean_transponder_items(self) -> list[Item]:
        return self._items("transponder_items")

    def clean_fob(self) -> list[Item]:
        return self._items("fob")

    def _items(self, name: str) -> list[Item]:
        found = []
        for number in filter(None, (part.strip() for part in re.split(r"[,;\n]", self.cleaned_data[name]))):
            item = Item.objects.filter(number__iexact=number).first()
            if item is None:
                near = ", ".join(str(each) for each in Item.objects.active().matching(number)[:3])
                raise ValidationError(f"No item has the number {number}." + (f" Perhaps {near}." if near else ""))
            found.append(item)
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not self.errors and data.get("year_from") and data.get("year_until"):
            self._ask_about_overlaps(data)
        return data

    def _ask_about_overlaps(self, data: dict[str, Any]) -> None:
        facts = FamilyFacts(
            id=self.family.pk if self.family else None,
            make=data["make"],
            model_names=tuple(data["model_names"]),
            year_from=data["year_from"],
            year_until=data["year_until"],
            market=data["market"],
            vin_pattern=data["vin_pattern"].rstrip("?"),
        )
        self.overlaps = overlaps_among(facts)
        if self.overlaps and not data["is_overlap_meant"]:
            self.add_error("is_overlap_meant", "Some vehicle would fit both. Say so when that is right.")

    @property
    def facts(self) -> dict[str, Any]:
        """The cleaned facts as `actions.add_family` takes them."""
        left_out = {"is_overlap_meant", *self.roles}
        return {name: value for name, value in self.cleaned_data.items() if name not in left_out}

    @property
    def items(self) -> list[tuple[Item, ItemRole]]:
        return [(item, role) for name, role in self.roles.items() for item in self.cleaned_data[name]]

    @classmethod
    def facts_of(cls, family: VehicleFamily) -> dict[str, Any]:
        left_out = {"is_overlap_meant", "model_names", "key_system", *cls.roles}
        facts = {name: getattr(family, name) for name in cls.base_fields if name not in left_out}
        held = list(family.family_items.select_related("item"))
        for name, role in cls.roles.items():
            facts[name] = ", ".join(each.item.number for each in held if each.role == role)
        return {**facts, "model_names": ", ".join(family.model_names), "key_system": family.key_system_id}


class VariantForm(PlainForm):
    name = _line("Variant", "Late board, early board.", max_length=80, required=True)
    sign = _line("The sign", "What to look at, before work begins.", required=True)
    photo = forms.FileField(
        label="Photo of the sign",
        required=False,
        widget=forms.FileInput({"accept": "image/*", "capture": "environment"}),
    )

    def clean_photo(self) -> bytes | None:
        sent = self.cleaned_data["photo"]
        if not sent:
            return None
        try:
            return read_picture(sent, size=sent.size)
        except Refused as refused:
            raise ValidationError(str(refused)) from None


class BeginProcedureForm(PlainForm):
    """For which work a procedure is written."""

    kind_of_work = forms.ChoiceField(label="Kind of work", choices=KindOfWork)
    variant = forms.ModelChoiceField(
        label="Variant", queryset=Variant.objects.none(), required=False, empty_label="Every vehicle of the family"
    )

    def __init__(self, *args: Any, family: VehicleFamily, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["variant"].queryset = family.variants.filter(is_active=True)  # type: ignore[attr-defined]


class RejectForm(PlainForm):
    reason = forms.CharField(
        label="Why not",
        max_length=300,
        widget=forms.Textarea({"rows": 2}),
        error_messages={"required": "Say why, so that the author can mend it."},
    )


class ChooseFamilyForm(PlainForm):
    """Which family, and which variant of it, a vehicle is."""

    family = forms.ModelChoiceField(queryset=VehicleFamily.objects.all(), required=False)
    variant = forms.ModelChoiceField(queryset=Variant.objects.all(), required=False)


class ExchangeForm(PlainForm):
    """A file of families: chosen, or sent along as text once it was looked at."""

    file = forms.FileField(label="File", required=False, widget=forms.FileInput({"accept": ".json,application/json"}))
    text = forms.CharField(required=False, strip=False)
    file_name = forms.CharField(required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        sent = data.get("file")
        if sent:
            if sent.size > LARGEST_BYTES:
                self.add_error("file", "This file is larger than 2 MB. Export fewer families at once.")
                return data
            try:
                data["text"] = sent.read().decode("utf-8-sig")
            except UnicodeDecodeError:
                self.add_error("file", "This file is not in UTF-8.")
            data["file_name"] = sent.name
        elif not data.get("text") and "file" not in self.errors:
            self.add_error("file", "Choose a file.")
        return data
