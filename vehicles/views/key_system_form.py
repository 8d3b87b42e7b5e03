"""Typing in a key system, with its drawing beside the form."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office
from vehicles.actions import add_key_system, change_key_system
from vehicles.key_forms import KeySystemForm
from vehicles.key_sheets import typed_from
from vehicles.models import KeySystemSheet
from vehicles.views.key_systems import facts_of

_BLANK = {"position_kind": "even", "depth_kind": "even", "unit": "mm"}


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    return _edit(request, None)


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, pk: int) -> HttpResponse:
    return _edit(request, get_object_or_404(KeySystemSheet, pk=pk))


def _edit(request: StaffRequest, sheet: KeySystemSheet | None) -> HttpResponse:
    typed = {**typed_from(sheet.system), "source": sheet.source, "notes": sheet.notes} if sheet else _BLANK
    form = KeySystemForm(request.POST or None, initial=typed)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            facts = {name: form.cleaned_data[name] for name in ("system", "source", "notes")}
            if sheet is None:
                kept = add_key_system(actor=request.user, **facts)
            else:
                kept = change_key_system(sheet, actor=request.user, **facts)
            tell(request, f"{kept.name} is kept.")
            return reverse("vehicles:key_system", args=[kept.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    drawn = facts_of(form.system) if form.is_bound and form.is_valid() and form.system else {}
    if not form.is_bound and sheet:
        drawn = facts_of(sheet.system)
    return render_form(request, "vehicles/keys/system_form.html", {"form": form, "sheet": sheet, **drawn})


@office
@require_POST
def drawing(request: StaffRequest) -> HttpResponse:
    """What has been typed so far as a drawing, or what still keeps it from being drawn."""
    data = request.POST.copy()
    data["name"] = data.get("name") or "this system"
    form = KeySystemForm(data)
    if form.is_valid() and form.system:
        return render(request, "vehicles/keys/_system_drawing.html", facts_of(form.system))
    field, words = next((name, errors[0]) for name, errors in form.errors.items())
    label = form[field].label if field in form.fields else ""
    return render(request, "vehicles/keys/_system_drawing.html", {"fault": words, "fault_label": label})
