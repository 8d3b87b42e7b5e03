"""What the technician enters of a key, on the phone."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import KeyWork
from shop.forms import CodeInput, PlainForm
from shop.stock.models import Item, Place
from vehicles.drawing import sorted_locks
from vehicles.keys import KeySystem
from vehicles.workbench import readings_in_mm

UNITS = [("mm", "mm"), ("in", "inches"), ("thou", "thousandths of an inch")]


class CodeForm(PlainForm):
    code = forms.CharField(label="Code", max_length=40, widget=CodeInput)
    where_found = forms.CharField(
        label="Where it was found", max_length=200, help_text="On the lock, in the papers, told by the dealer."
    )


class CutsForm(PlainForm):
    """A choice of depth for each cut; nothing chosen is unknown. `known` are the labels."""

    in_books = forms.BooleanField(label="Only keys that stand in our code books", required=False)

    def __init__(self, *args: Any, system: KeySystem, has_book: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_book:
            del self.fields["in_books"]
        choices = [("", "?"), *((label, label) for label in system.labels)]
        for spot in system.spots:
            self.fields[f"cut_{spot.position}"] = forms.ChoiceField(
                label=spot.words.capitalize(), choices=choices, required=False, widget=forms.RadioSelect
            )
        self._cuts = system.cuts

    @property
    def known(self) -> list[str | None]:
        return [self.cleaned_data[f"cut_{place}"] or None for place in range(1, self._cuts + 1)]


class ReadingsForm(PlainForm):
    """A reading for each cut, as typed; `readings_mm` raises BadEntry for one that is no number."""

    unit = forms.ChoiceField(label="Readings are in", choices=UNITS, widget=forms.RadioSelect)
    source = forms.ChoiceField(
        label="Read from", choices=[("key", "a worn key"), ("lock", "the lock's wafers")], widget=forms.RadioSelect
    )
    in_books = forms.BooleanField(label="Only keys that stand in our code books", required=False)

    def __init__(self, *args: Any, system: KeySystem, has_book: bool, **kwargs: Any) -> None:
        super().__init__(*args, initial={"unit": system.unit, "source": "key"}, **kwargs)
        if not has_book:
            del self.fields["in_books"]
        self._names = [f"reading_{place}" for place in range(1, system.cuts + 1)]

    @property
    def texts(self) -> list[str]:
        return [str(self.data.get(name, ""))[:20] for name in self._names]

    @property
    def readings_mm(self) -> list[Decimal | None]:
        return readings_in_mm(self.texts, self.cleaned_data["unit"])


class BlankForm(PlainForm):
    """Which blank, out of those at hand."""

    item = forms.ModelChoiceField(
        label="Blank", queryset=Item.objects.none(), widget=forms.RadioSelect, empty_label=None
    )

    def __init__(self, *args: Any, items: Sequence[Item], place: Place | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["item"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Item.objects.filter(pk__in=[item.pk for item in items])
        where = f" on {place.name}" if place else ""
        field.widget.choices = [(item.pk, f"{item.name} ({item.here}{where})") for item in items]  # type: ignore[attr-defined]


class FinalForm(BlankForm):
    count = forms.IntegerField(label="How many keys", min_value=1, max_value=20, initial=1)
    turned_in = forms.MultipleChoiceField(
        label="Every key turns in", required=False, choices=(), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, work: KeyWork, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        locks = [lock for lock, _ in sorted_locks(work.key_system.system.locks)] if work.key_system else []
        field = self.fields["turned_in"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(lock, lock.capitalize()) for lock in locks]
        if not locks:
            del self.fields["turned_in"]


class LeaveForm(PlainForm):
    reason = forms.CharField(label="Why now", max_length=200)


class OpenKeyForm(PlainForm):
    reason = forms.CharField(label="Why do you open it?", max_length=200, help_text="Written down with your name.")
