"""Variants of a family, and the photo of the sign that tells one apart."""

from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone, office
from vehicles.actions import add_variant, change_variant, switch_variant
from vehicles.know_forms import VariantForm
from vehicles.models import Variant, VehicleFamily


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest, family_id: int) -> HttpResponse:
    return _edit(request, get_object_or_404(VehicleFamily, pk=family_id), None)


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, variant_id: int) -> HttpResponse:
    variant = get_object_or_404(Variant.objects.select_related("family"), pk=variant_id)
    return _edit(request, variant.family, variant)


def _edit(request: StaffRequest, family: VehicleFamily, variant: Variant | None) -> HttpResponse:
    initial = {"name": variant.name, "sign": variant.sign} if variant else {}
    form = VariantForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            if variant:
                kept = change_variant(variant, actor=request.user, **form.cleaned_data)
            else:
                kept = add_variant(family, actor=request.user, **form.cleaned_data)
            tell(request, f"{kept} is kept.")
            return reverse("vehicles:family", args=[family.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/know/variant_form.html", {"form": form, "family": family, "variant": variant})


@office
@require_POST
def switch(request: StaffRequest, variant_id: int, on: bool) -> HttpResponse:
    variant = get_object_or_404(Variant, pk=variant_id)

    def do() -> str:
        switch_variant(variant, actor=request.user, on=on)
        back = reverse("vehicles:variant_off" if on else "vehicles:variant_on", args=[variant_id])
        tell(request, f"{variant} is {'asked about again' if on else 'no longer asked about'}.", undo=back)
        return reverse("vehicles:family", args=[variant.family_id])

    return see(request, once(request, do))


@everyone
@require_safe
def photo(request: StaffRequest, variant_id: int) -> HttpResponseBase:
    variant = get_object_or_404(Variant, pk=variant_id)
    if not variant.photo:
        raise Http404("This variant has no photo.")
    response = FileResponse(variant.photo.open(), content_type="image/jpeg")
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response
