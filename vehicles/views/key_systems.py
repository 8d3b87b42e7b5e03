"""The shop's key systems: the list, and one of them."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from shop.http import see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone, office
from vehicles.actions import copy_key_system, switch_key_system
from vehicles.drawing import draw_key, sample_bitting, sorted_locks
from vehicles.key_sheets import length_text
from vehicles.key_sheets.notation import write_places
from vehicles.key_sheets.series import rule_words
from vehicles.keys import KeySystem, count_bittings, count_theoretical
from vehicles.models import KeySystemSheet


@everyone
@require_safe
def key_systems(request: StaffRequest) -> HttpResponse:
    sheets = [(sheet, sample_drawing(sheet.system, plain=True)) for sheet in KeySystemSheet.objects.in_order()]
    return render(request, "vehicles/keys/systems.html", {"sheets": sheets})


@everyone
@require_safe
def key_system(request: StaffRequest, pk: int) -> HttpResponse:
    sheet = get_object_or_404(KeySystemSheet.objects.select_related("changed_by"), pk=pk)
    context = {"sheet": sheet, "books": sheet.code_books.in_order(), **facts_of(sheet.system)}
    return render(request, "vehicles/keys/system.html", context)


@office
@require_POST
def copy(request: StaffRequest, pk: int) -> HttpResponse:
    sheet = get_object_or_404(KeySystemSheet, pk=pk)

    def do() -> str:
        made = copy_key_system(sheet, actor=request.user)
        tell(request, f"Copied. This is {made.name}.")
        return reverse("vehicles:change_key_system", args=[made.pk])

    return see(request, once(request, do))


@office
@require_POST
def switch(request: StaffRequest, pk: int, on: bool) -> HttpResponse:
    sheet = get_object_or_404(KeySystemSheet, pk=pk)

    def do() -> str:
        switch_key_system(sheet, actor=request.user, on=on)
        back = reverse("vehicles:key_system_off" if on else "vehicles:key_system_on", args=[pk])
        tell(request, f"{sheet.name} is {'in use' if on else 'out of use'}.", undo=back)
        return reverse("vehicles:key_system", args=[pk])

    return see(request, once(request, do))


def sample_drawing(system: KeySystem, *, plain: bool = False) -> Any:
    """A drawing with cuts that obey every rule."""
    bitting = sample_bitting(system) or (system.labels[0],) * system.cuts
    return draw_key(system, bitting, with_locks=not plain, with_ladder=not plain)


def facts_of(system: KeySystem) -> dict[str, Any]:
    """What a page shows of a system, also of one that is being typed."""
    usable = count_bittings(system)
    return {
        "system": system,
        "drawing": sample_drawing(system),
        "sample": sample_bitting(system),
        "usable": usable,
        "theoretical": count_theoretical(system),
        "rules": [rule_words(rule) for rule in system.rules],
        "locks": [(name, write_places(places), len(places)) for name, places in sorted_locks(system.locks)],
        "depths": [
            (depth.label, *_both(depth.root_mm)) for depth in sorted(system.depths, key=lambda depth: -depth.root_mm)
        ],
        "places": [(spot.words, *_both(at)) for spot, at in zip(system.spots, system.distances_mm, strict=True)],
        "sizes": [
            (words, length_text(value, system.unit))
            for words, value in (
                ("Blade height", system.blade_height_mm),
                ("Blade length", system.blade_length_mm),
                ("Cut flat", system.flat_mm),
            )
        ],
    }


def _both(length_mm: Any) -> tuple[str, str]:
    return length_text(length_mm, "mm").split(" ")[0], length_text(length_mm, "in", 4).split(" ")[0]
