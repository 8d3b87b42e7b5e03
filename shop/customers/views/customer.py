"""One customer: shown, added, changed."""

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.customers.actions import add_customer, change_customer
from shop.customers.forms import CustomerForms
from shop.customers.models import Customer, CustomerPhone
from shop.errors import Refused
from shop.forms import PhoneField
from shop.http import see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office


@office
@require_safe
def show(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer.objects.with_contacts(), pk=pk)
    twins = Customer.objects.sharing_a_number_with(customer).in_order()[:5]
    return render(request, "customers/show.html", {"customer": customer, "twins": twins})


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    return _form_page(request, None)


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, pk: int) -> HttpResponse:
    return _form_page(request, get_object_or_404(Customer.objects.with_contacts(), pk=pk))


def _form_page(request: StaffRequest, customer: Customer | None) -> HttpResponse:
    forms = CustomerForms(request.POST or None, customer=customer)
    status = 200
    if request.method == "POST" and "grow" not in request.POST:

        def do() -> str:
            kept = _keep(request, customer, forms)
            return reverse("customers:show", args=[kept.pk])

        try:
            if forms.is_valid():
                return see(request, once(request, do))
        except Refused as refused:
            forms.refuse(refused)
        status = 422
    return render(request, "customers/form.html", {"forms": forms, "customer": customer}, status=status)


def _keep(request: StaffRequest, customer: Customer | None, forms: CustomerForms) -> Customer:
    if customer is None:
        kept = add_customer(actor=request.user, **forms.facts)
        tell(request, f"{kept.name} is a customer now.")
    else:
        kept = change_customer(customer, actor=request.user, **forms.facts)
        tell(request, f"Changes to {kept.name} are kept.")
    return kept


@office
@require_safe
def known_number(request: StaffRequest) -> HttpResponse:
    """Who has the number being typed already; nothing while it is no whole number."""
    typed = next((str(request.GET[name]) for name in request.GET if name.endswith("number")), "")
    number = _whole_number(typed)
    own = request.GET.get("customer", "")
    phones = CustomerPhone.objects.filter(number=number).select_related("customer").order_by("id") if number else None
    if phones is not None and own.isdecimal() and len(own) < 19:
        phones = phones.exclude(customer_id=own)
    return render(request, "customers/known_number.html", {"phones": phones[:3] if phones is not None else ()})


def _whole_number(typed: str) -> str:
    try:
        return PhoneField(required=False, max_length=60).clean(typed)
    except ValidationError:
        return ""
