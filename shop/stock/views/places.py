"""Where stock is, who drives the vans, and from whom it is bought: the owner's small pages."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, owner
from shop.stock import actions
from shop.stock.forms.catalogue import PlaceForm, SupplierForm
from shop.stock.models import Place, Supplier

SUPPLIER_FACTS = ("name", "phone", "email", "lead_days")


@owner
@require_safe
def places(request: StaffRequest) -> HttpResponse:
    rows = Place.objects.select_related("driver").order_by("kind", "name")
    return render(request, "stock/places.html", {"places": rows})


@owner
@require_http_methods(["GET", "POST"])
def add_place(request: StaffRequest) -> HttpResponse:
    form = PlaceForm(request.POST or None)
    return _act(
        request, form, lambda facts: actions.add_place(actor=request.user, **facts), "stock:places", "Add place"
    )


@owner
@require_http_methods(["GET", "POST"])
def change_place(request: StaffRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place, pk=pk)
    form = PlaceForm(request.POST or None, initial=PlaceForm.facts_of(place))
    return _act(
        request,
        form,
        lambda facts: actions.change_place(place, actor=request.user, **facts),
        "stock:places",
        f"Change {place.name}",
    )


@owner
@require_safe
def suppliers(request: StaffRequest) -> HttpResponse:
    return render(request, "stock/suppliers.html", {"suppliers": Supplier.objects.order_by("name")})


@owner
@require_http_methods(["GET", "POST"])
def add_supplier(request: StaffRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None)
    return _act(
        request,
        form,
        lambda facts: actions.add_supplier(actor=request.user, **facts),
        "stock:suppliers",
        "Add supplier",
    )


@owner
@require_http_methods(["GET", "POST"])
def change_supplier(request: StaffRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    form = SupplierForm(request.POST or None, initial={name: getattr(supplier, name) for name in SUPPLIER_FACTS})
    return _act(
        request,
        form,
        lambda facts: actions.change_supplier(supplier, actor=request.user, **facts),
        "stock:suppliers",
        f"Change {supplier.name}",
    )


def _act(
    request: StaffRequest, form: PlainForm, act: Callable[[dict[str, Any]], Any], back: str, title: str
) -> HttpResponse:
    def do() -> str:
        tell(request, f"{act(form.cleaned_data)} is kept.")
        return reverse(back)

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "stock/small_form.html", {"form": form, "title": title, "back": reverse(back)})
