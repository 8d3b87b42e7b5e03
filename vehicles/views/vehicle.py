"""One vehicle: shown, added to a customer, changed; and the vehicles of one customer for other pages."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from shop.customers.models import Customer
from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office
from vehicles.actions.vehicle import add_vehicle, change_vehicle
from vehicles.forms import VehicleForm
from vehicles.models import Vehicle
from vehicles.vin import read_vin


@office
@require_safe
def show(request: StaffRequest, pk: int) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle.objects.select_related("customer"), pk=pk)
    reading = read_vin(vehicle.vin, today=timezone.localdate()) if vehicle.vin else None
    return render(request, "vehicles/show.html", {"vehicle": vehicle, "reading": reading})


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    form = VehicleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            vehicle = add_vehicle(actor=request.user, customer=customer, **form.facts)
            tell(request, f"{vehicle} is kept.")
            return reverse("customers:show", args=[customer.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/form.html", {"form": form, "customer": customer})


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, pk: int) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle.objects.select_related("customer"), pk=pk)
    form = VehicleForm(request.POST or None, initial=VehicleForm.facts_of(vehicle))
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            kept = change_vehicle(vehicle, actor=request.user, **form.facts)
            tell(request, f"Changes to {kept} are kept.")
            return reverse("vehicles:show", args=[vehicle.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/form.html", {"form": form, "customer": vehicle.customer, "vehicle": vehicle})


@office
@require_safe
def customer_panel(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    vehicles = Vehicle.objects.of_customer(customer.pk)[:100]
    return render(request, "vehicles/customer_panel.html", {"customer": customer, "vehicles": vehicles})
