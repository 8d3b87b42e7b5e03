"""The workbench: cuts from readings, missing cuts, the fewest blanks. Nothing here belongs to a job."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.http import see
from shop.staff.access import StaffRequest, everyone
from vehicles.actions.trial_plans import ask_for_plan
from vehicles.cards import cutting_card
from vehicles.code_books import bittings_among, bittings_for, has_book
from vehicles.drawing import draw_key
from vehicles.key_sheets.notation import read_length
from vehicles.keys import BadReadings, Bitting, KeysError, KeySystem, UnitsDoubt
from vehicles.models import KeySystemSheet, TrialPlanRequest
from vehicles.workbench import (
    AT_MOST,
    AT_ONCE,
    BadEntry,
    DecodedView,
    PlanView,
    count_missing,
    decode_readings,
    known_cuts,
    list_missing,
    make_plan,
    readings_in_mm,
)

_UNITS = {"mm": "mm", "in": "inches", "thou": "thousandths of an inch"}


@everyone
@require_safe
def workbench(request: StaffRequest) -> HttpResponse:
    sheets = KeySystemSheet.objects.in_use().in_order()
    shown = [(sheet, draw_key(sheet.system, [None] * sheet.system.cuts, with_ladder=False)) for sheet in sheets]
    return render(request, "vehicles/keys/workbench.html", {"sheets": shown})


@everyone
@require_http_methods(["GET", "POST"])
def decode_page(request: StaffRequest, pk: int) -> HttpResponse:
    """Readings to candidates."""
    sheet = get_object_or_404(KeySystemSheet, pk=pk)
    texts = _texts(request, "reading", sheet.system.cuts)
    unit = request.POST.get("unit", sheet.system.unit)
    unit = unit if unit in _UNITS else "mm"
    typed = {
        "unit": unit,
        "units": _UNITS.items(),
        "tolerance": request.POST.get("tolerance", "")[:20],
        "from_lock": request.POST.get("from") == "lock",
        "in_books": request.POST.get("in_books") == "yes",
    }
    context: dict[str, Any] = {"sheet": sheet, "has_book": has_book(sheet), **typed}
    faults: dict[int, str] = {}
    if request.method == "POST":
        try:
            context |= _decoded(sheet, texts, typed)
        except UnitsDoubt as doubt:
            context["doubt"] = str(doubt)
            context |= _meant(doubt, texts)
        except BadReadings as error:
            faults = dict.fromkeys(error.positions, "")
            context["error"] = str(error)
        except BadEntry as error:
            faults = {error.position: ""}
            context["error"] = str(error)
        except KeysError as error:
            context["error"] = str(error)
    context["cells"] = _cells(sheet.system, "reading", texts, faults)
    context.setdefault("drawing", draw_key(sheet.system, [None] * sheet.system.cuts))
    return render(request, "vehicles/keys/decode.html", context, status=422 if "error" in context else 200)


def _decoded(sheet: KeySystemSheet, texts: Sequence[str], typed: dict[str, Any]) -> dict[str, Any]:
    system = sheet.system
    readings = readings_in_mm(texts, typed["unit"])
    if not any(reading is not None for reading in readings):
        raise KeysError("Give at least one reading.")
    tolerance = _length(typed["tolerance"], typed["unit"])
    worn = not typed["from_lock"]
    view = decode_readings(system, readings, tolerance_mm=tolerance, worn=worn)
    if typed["in_books"]:
        choices = [[choice.label for choice in found] for found in view.decoded.choices]
        book = bittings_among(sheet, choices)
        view = decode_readings(system, readings, tolerance_mm=tolerance, worn=worn, code_book=book)
    context: dict[str, Any] = {"view": view}
    if view.best:
        context["drawing"] = draw_key(system, view.best, deeper=_open_cuts(view))
        context["card"] = cutting_card(system, view.best) if view.remaining == 1 else None
        context["plan"] = _decoded_plan(system, view)
    return context


def _decoded_plan(system: KeySystem, view: DecodedView) -> Any:
    """The trials that settle what the readings leave open, when they are few enough to be worth it."""
    if not 1 < view.remaining <= 400:
        return None
    return make_plan(system, [one.bitting for one in view.decoded], [one.weight for one in view.decoded])


def _open_cuts(view: DecodedView) -> list[int]:
    return [cut["position"] for cut in view.cuts if cut["is_open"]]


def _length(text: str, unit: str) -> Decimal | None:
    if not text.strip():
        return None
    try:
        return readings_in_mm([text], unit)[0] if read_length(text) else None
    except KeysError as error:
        raise KeysError(f"Tolerance: {str(error).removeprefix('Cut 1: ')}") from None


def _meant(doubt: UnitsDoubt, texts: Sequence[str]) -> dict[str, Any]:
    """What to send again when the person agrees: the same figures in the unit they were meant in."""
    for unit, words in _UNITS.items():
        taken = zip(readings_in_mm(texts, unit), doubt.readings_mm, strict=True)
        if all(one == two or (one and two and abs(one - two) < Decimal("0.00001")) for one, two in taken):
            return {"meant": list(texts), "meant_unit": unit, "meant_words": words}
    meant = ["" if value is None else f"{value:f}" for value in doubt.readings_mm]
    return {"meant": meant, "meant_unit": "mm", "meant_words": "mm"}


@everyone
@require_http_methods(["GET", "POST"])
def missing_page(request: StaffRequest, pk: int) -> HttpResponse:
    """Known cuts to the keys that have them, and the fewest blanks to try them on."""
    sheet = get_object_or_404(KeySystemSheet, pk=pk)
    system = sheet.system
    texts = _texts(request, "cut", system.cuts)
    in_books = request.POST.get("in_books") == "yes"
    context: dict[str, Any] = {"sheet": sheet, "has_book": has_book(sheet), "in_books": in_books, "at_most": AT_MOST}
    faults: dict[int, str] = {}
    known: list[str | None] = [None] * system.cuts
    if request.method == "POST":
        try:
            known = known_cuts(system, texts)
            found = _completed(request, sheet, known, in_books)
            if isinstance(found, str):
                return see(request, found)
            context |= found
        except BadEntry as error:
            faults = {error.position: ""}
            context["error"] = str(error)
        except KeysError as error:
            context["error"] = str(error)
    context["cells"] = _cells(system, "cut", texts, faults)
    context["drawing"] = draw_key(system, known)
    return render(request, "vehicles/keys/missing.html", context, status=422 if "error" in context else 200)


def _completed(
    request: StaffRequest, sheet: KeySystemSheet, known: list[str | None], in_books: bool
) -> dict[str, Any] | str:
    """What the page shows, or the address of a plan that is being made."""
    if in_books and all(label is None for label in known):
        raise KeysError("Give at least one cut to look for in the code books.")
    book = bittings_for(sheet, known) if in_books else None
    count = count_missing(sheet.system, known, book)
    shown: dict[str, Any] = {"count": count, "unknown": known.count(None)}
    if count > AT_MOST:
        return shown | {"too_many": True}
    if count > AT_ONCE:
        made = ask_for_plan(sheet, actor=request.user, known=known, with_books=in_books)
        return reverse("vehicles:trial_plan", args=[made.pk])
    candidates = list_missing(sheet.system, known, book)
    return shown | {
        "plan": make_plan(sheet.system, candidates),
        **_only(sheet, candidates),
    }


def _only(sheet: KeySystemSheet, candidates: Sequence[Bitting]) -> dict[str, Any]:
    return {"card": cutting_card(sheet.system, candidates[0])} if len(candidates) == 1 else {}


@everyone
@require_safe
def trial_plan(request: StaffRequest, pk: int) -> HttpResponse:
    """A plan that a worker makes; only for the person who asked."""
    found = TrialPlanRequest.objects.filter(person=request.user).select_related("key_system")
    made = get_object_or_404(found, pk=pk)
    known = made.asked.get("known") or [None] * made.key_system.system.cuts
    context: dict[str, Any] = {"made": made, "sheet": made.key_system}
    if made.result:
        context["plan"] = PlanView.from_json(made.result)
    if not request.htmx:  # type: ignore[attr-defined]
        context["drawing"] = draw_key(made.key_system.system, known)
    template = "vehicles/keys/_trial_plan.html" if request.htmx else "vehicles/keys/trial_plan.html"  # type: ignore[attr-defined]
    return render(request, template, context)


def _texts(request: HttpRequest, name: str, cuts: int) -> list[str]:
    return [request.POST.get(f"{name}_{position}", "")[:20] for position in range(1, cuts + 1)]


def _cells(system: KeySystem, name: str, texts: Sequence[str], faults: dict[int, str]) -> list[dict[str, Any]]:
    """One cell to type in for each cut, in reading order."""
    return [
        {
            "name": f"{name}_{spot.position}",
            "position": spot.position,
            "words": spot.words,
            "value": text,
            "is_wrong": spot.position in faults,
            "starts_edge": spot.starts_edge and spot.edge > 1,
        }
        for spot, text in zip(system.spots, texts, strict=True)
    ]
