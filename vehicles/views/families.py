"""Families: the list, one of them, adding and changing."""

from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone, office
from vehicles.actions import add_family, change_family, switch_family
from vehicles.finding import facts_of, overlaps_among
from vehicles.know_forms import FamilyForm
from vehicles.models import ProcedureVersion, VehicleFamily
from vehicles.reads_know import item_lines, procedures_of
from vehicles.states import VersionState

LONGEST_TYPED = 60
PAGE = 50


@everyone
@require_safe
def families(request: StaffRequest) -> HttpResponse:
    """The families that hold what was typed, by make."""
    text = request.GET.get("q", "").replace("\0", "").strip()[:LONGEST_TYPED]
    page = request.GET.get("page", "")
    number = max(1, int(page)) if page.isascii() and page.isdecimal() and len(page) < 6 else 1
    waiting = Count("procedures__versions", filter=Q(procedures__versions__state=VersionState.PROPOSED), distinct=True)
    found = VehicleFamily.objects.matching(text).with_key().annotate(waiting=waiting).in_order()
    shown = list(found[(number - 1) * PAGE : number * PAGE + 1])
    context = {
        "families": shown[:PAGE],
        "text": text,
        "page": number,
        "has_more": len(shown) > PAGE,
        "proposed_count": ProcedureVersion.objects.proposed().count(),
    }
    return render(request, "vehicles/know/families.html", context)


@everyone
@require_safe
def family(request: StaffRequest, family_id: int) -> HttpResponse:
    """Everything the next technician needs, at a glance."""
    shown = get_object_or_404(VehicleFamily.objects.with_key().select_related("changed_by"), pk=family_id)
    context = {
        "family": shown,
        "items": item_lines(shown),
        "variants": shown.variants.all(),
        "procedures": procedures_of(shown),
        "overlaps": overlaps_among(facts_of(shown)),
        "steps": [line for line in shown.access_steps.splitlines() if line.strip()],
    }
    return render(request, "vehicles/know/family.html", context)


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    typed = {name: request.GET.get(name, "")[:60] for name in ("make", "model_names")}
    return _edit(request, None, FamilyForm(request.POST or None, initial=typed))


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, family_id: int) -> HttpResponse:
    shown = get_object_or_404(VehicleFamily, pk=family_id)
    return _edit(request, shown, FamilyForm(request.POST or None, initial=FamilyForm.facts_of(shown), family=shown))


def _edit(request: StaffRequest, family: VehicleFamily | None, form: FamilyForm) -> HttpResponse:
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            if family:
                kept = change_family(family, actor=request.user, items=form.items, **form.facts)
            else:
                kept = add_family(actor=request.user, items=form.items, **form.facts)
            tell(request, f"{kept} is kept.")
            return reverse("vehicles:family", args=[kept.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/know/family_form.html", {"form": form, "family": family})


@office
@require_POST
def switch(request: StaffRequest, family_id: int, on: bool) -> HttpResponse:
    shown = get_object_or_404(VehicleFamily, pk=family_id)

    def do() -> str:
        switch_family(shown, actor=request.user, on=on)
        back = reverse("vehicles:family_off" if on else "vehicles:family_on", args=[family_id])
        tell(request, f"{shown} is {'in use' if on else 'out of use'}.", undo=back)
        return reverse("vehicles:family", args=[family_id])

    return see(request, once(request, do))
