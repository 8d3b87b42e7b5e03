"""Cutting cards: on the page, and on paper at true scale. Cuts come by POST: key data never stands in an address."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from shop.http import render_form
from shop.staff.access import StaffRequest, everyone
from vehicles.cards import cutting_card, read_bitting
from vehicles.drawing import ruler_ticks, sample_bitting
from vehicles.key_forms import BittingForm
from vehicles.keys import KeysError
from vehicles.models import KeySystemSheet
from vehicles.true_scale import true_scale


@everyone
@require_http_methods(["GET", "POST"])
def card(request: StaffRequest, pk: int) -> HttpResponse:
    sheet = get_object_or_404(KeySystemSheet, pk=pk)
    form = BittingForm(request.POST or None)
    context = {"sheet": sheet, "form": form, "example": " ".join(sample_bitting(sheet.system) or ())}
    if request.method == "POST" and form.is_valid():
        try:
            context["card"] = cutting_card(sheet.system, read_bitting(sheet.system, form.cleaned_data["bitting"]))
        except KeysError as error:
            form.add_error("bitting", str(error))
    return render_form(request, "vehicles/keys/card.html", context)


@everyone
@require_POST
def card_paper(request: StaffRequest, pk: int) -> HttpResponse:
    """The card to be printed."""
    sheet = get_object_or_404(KeySystemSheet, pk=pk)
    try:
        bitting = read_bitting(sheet.system, request.POST.get("bitting", "")[:200])
    except KeysError as error:
        form = BittingForm(request.POST)
        form.add_error("bitting", str(error))
        return render_form(request, "vehicles/keys/card.html", {"sheet": sheet, "form": form})
    return render(request, "vehicles/keys/card_paper.html", card_paper_context(sheet, bitting))


def card_paper_context(sheet: KeySystemSheet, bitting: tuple[str, ...], note: str = "") -> dict[str, object]:
    """What the printed card needs; `note` is a line such as a job number."""
    return {
        "sheet": sheet,
        "card": cutting_card(sheet.system, bitting),
        "true": true_scale(sheet.system, bitting),
        "ruler": ruler_ticks(),
        "note": note,
        "now": timezone.now(),
    }
