"""Forms of key systems, code books, cutting cards and the workbench."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from shop.forms import CodeInput, PlainForm
from vehicles.key_sheets import build_system
from vehicles.key_sheets.typed import DEEPER, EVEN, LIST, SHALLOWER
from vehicles.keys import ImpossibleSystem, KeySystem, Layout, Reading, Stop
from vehicles.models import CodeBook, KeySystemSheet

_LINE = {"autocomplete": "off", "spellcheck": "false"}


def _figure(label: str, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput({**_LINE, "inputmode": "decimal", "class": "figures", **attrs})
    return forms.CharField(label=label, required=False, max_length=24, help_text=help_text, widget=widget)


def _line(label: str, help_text: str = "", max_length: int = 400) -> forms.CharField:
    return forms.CharField(
        label=label, required=False, max_length=max_length, help_text=help_text, widget=forms.TextInput(_LINE)
    )


def _lines(label: str, help_text: str = "", rows: int = 3) -> forms.CharField:
    widget = forms.Textarea({**_LINE, "rows": rows})
    return forms.CharField(label=label, required=False, max_length=4000, help_text=help_text, widget=widget)


def _choice(label: str, choices: Sequence[tuple[str, str]], initial: str = "") -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, initial=initial, required=False, widget=forms.RadioSelect)


class KeySystemForm(PlainForm):
    """A key system as typed; cleans to `system` of the core. Each impossible figure is refused beside its field."""

    name = forms.CharField(label="Name", max_length=80, widget=forms.TextInput(_LINE))
    unit = _choice("Lengths are in", [("mm", "mm"), ("in", "inches")], "mm")
    layout = forms.ChoiceField(
        label="Where the cuts are",
        choices=[
            (Layout.ONE_EDGE, "One edge"),
            (Layout.MIRRORED, "Two mirrored edges"),
            (Layout.INDEPENDENT, "Two independent edges"),
            (Layout.EXTERNAL_TRACK, "External track"),
            (Layout.INTERNAL_TRACK, "Internal track"),
        ],
    )
    stop = _choice("Measured from", [(Stop.SHOULDER, "Shoulder"), (Stop.TIP, "Tip")], Stop.SHOULDER)
    reads = _choice(
        "Cuts are read", [(Reading.BOW_TO_TIP, "Bow to tip"), (Reading.TIP_TO_BOW, "Tip to bow")], Reading.BOW_TO_TIP
    )
    position_kind = _choice("Cut positions", [(EVEN, "Evenly spaced"), (LIST, "As a list")], EVEN)
    first_position = _figure("First cut")
    spacing = _figure("Spacing")
    cuts = _figure("Number of cuts")
    positions = _lines("Positions from the stop", "3.15 5.65 8.15", rows=2)
    second_edge = _lines("Positions on the second edge", "Leave empty when they are as on the first.", rows=2)
    depth_kind = _choice("Depths", [(EVEN, "Even steps"), (LIST, "As a list")], EVEN)
    depth_labels = _line("Labels", "1-6, or A B C D")
    first_root = _figure("Root depth of the first label")
    depth_step = _figure("Step")
    depths_run = _choice("As the label rises", [(DEEPER, "cuts get deeper"), (SHALLOWER, "cuts get shallower")], DEEPER)
    depths = _lines("Label and root depth", "One on a line: 1 = 8.00", rows=5)
    macs = _figure("MACS", "Largest step between neighbours. Empty: no limit.")
    flat = _figure("Cut flat")
    angle = _figure("Angle, degrees")
    blade_height = _figure("Blade height")
    blade_length = _figure("Blade length", "Shoulder to tip.")
    can_recut = forms.BooleanField(label="A finished cut can be made deeper", required=False, initial=True)
    locks = _lines("Locks and the cuts they read", "One lock on a line: door: 1-6")
    rule_parity = _choice("The depths add up to", [("", "any number"), ("even", "an even one"), ("odd", "an odd one")])
    rule_sum = _line("They add up to between", "12 to 30")
    rule_equal_run = _figure("Equal depths in a row, at most")
    rule_different = _figure("Different depths, at least")
    rule_spread = _figure("Highest and lowest depth apart, at least")
    rule_first = _line("The first cut is never", "1 5")
    rule_last = _line("The last cut is never", "1 5")
    rule_at = _line("A certain cut is never", "3: 1 5; 4: 2")
    rule_max_of_depth = _line("A depth at most so many times", "1: 2; 5: 1")
    rule_neighbours = _line("Never side by side", "1-6 2-6")
    source = forms.CharField(label="Source", max_length=300, required=False, help_text="Where the figures come from.")
    notes = _lines("Notes")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if self.errors:
            return cleaned
        try:
            cleaned["system"] = build_system({name: value for name, value in cleaned.items() if name in self.fields})
        except ImpossibleSystem as error:
            self.add_error(error.field if error.field in self.fields else None, str(error))
        return cleaned

    @property
    def rule_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("rule_") and name != "rule_parity"]

    @property
    def has_rules(self) -> bool:
        """Whether the fold with the series rules must be open."""
        values = (self[name].value() for name in self.fields if name.startswith("rule_"))
        return any(values) or any(name.startswith("rule_") for name in self.errors)

    @property
    def system(self) -> KeySystem | None:
        found: KeySystem | None = self.cleaned_data.get("system")
        return found


class FileForm(PlainForm):
    """A CSV file."""

    file = forms.FileField(label="CSV file", widget=forms.ClearableFileInput({"accept": ".csv,text/csv,.txt"}))

    def content(self) -> bytes:
        sent: UploadedFile = self.cleaned_data["file"]
        return sent.read()


class CodeBookForm(FileForm):
    """A code book's facts and its file."""

    key_system = forms.ModelChoiceField(
        label="Key system", queryset=KeySystemSheet.objects.none(), empty_label="Choose"
    )
    name = forms.CharField(label="Name of the book", max_length=80, widget=forms.TextInput(_LINE))
    replaces = forms.ModelChoiceField(
        label="In place of", queryset=CodeBook.objects.none(), required=False, empty_label="Nothing, it is a new book"
    )
    code_format = forms.CharField(
        label="Form of its codes",
        max_length=30,
        required=False,
        widget=CodeInput,
        help_text="# is a digit, @ a letter: AW####",
    )
    first_code = forms.CharField(label="First code", max_length=20, required=False, widget=CodeInput)
    last_code = forms.CharField(label="Last code", max_length=20, required=False, widget=CodeInput)
    source = forms.CharField(label="Source", max_length=300, help_text="Who gave or sold this table.")
    licence_note = forms.CharField(
        label="Licence",
        max_length=2000,
        widget=forms.Textarea({"rows": 2}),
        help_text="What allows the shop to use it, and until when.",
    )
    field_order = ["key_system", "name", "replaces", "code_format", "first_code", "last_code", "source"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["key_system"].queryset = KeySystemSheet.objects.in_use().in_order()  # type: ignore[attr-defined]
        self.fields["replaces"].queryset = CodeBook.objects.in_order()  # type: ignore[attr-defined]


class LookForm(PlainForm):
    """Why somebody looks into the code books, and for which job."""

    job_number = forms.CharField(label="Job number", max_length=20, required=False, widget=CodeInput)
    reason = forms.CharField(label="Reason", max_length=200, required=False, help_text="Written down with your name.")


class CodeLookForm(LookForm):
    """A code to be looked up."""

    code = forms.CharField(label="Key code", max_length=40, required=False, widget=CodeInput)
    field_order = ["code", "job_number", "reason"]


class CutsLookForm(LookForm):
    """Cuts, some unknown, to be looked for."""

    key_system = forms.ModelChoiceField(
        label="Key system", queryset=KeySystemSheet.objects.none(), empty_label="Choose"
    )
    cuts = forms.CharField(
        label="Cuts", max_length=120, required=False, widget=CodeInput, help_text="? for an unknown cut: 3?12?"
    )
    field_order = ["key_system", "cuts", "job_number", "reason"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        books = KeySystemSheet.objects.filter(code_books__is_active=True, code_books__row_count__gt=0).distinct()
        self.fields["key_system"].queryset = books.in_order()  # type: ignore[attr-defined]


class BittingForm(PlainForm):
    """The cuts of one key."""

    bitting = forms.CharField(label="Cuts in reading order", max_length=200, widget=CodeInput)
