"""One place of a customer: added, changed, taken off and put back."""

from django.core import signing
from django.core.exceptions import SuspiciousOperation
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shop.customers import actions
from shop.customers.forms import AddressForm
from shop.customers.models import Address, Customer
from shop.http import render_form, see, tell
from shop.once import answered, once
from shop.staff.access import StaffRequest, office

UNDO_SALT = "shop.customers.addresses"
UNDO_SECONDS = 15 * 60


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest, pk: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=pk)
    form = AddressForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            address = actions.add_address(customer, actor=request.user, **form.facts)
            tell(request, f"{address.street} is kept.")
            return reverse("customers:show", args=[customer.pk])

        return see(request, once(request, do))
    return render_form(request, "customers/address.html", {"form": form, "customer": customer})


@office
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, pk: int) -> HttpResponse:
    address = get_object_or_404(Address.objects.select_related("customer"), pk=pk)
    form = AddressForm(request.POST or None, initial=AddressForm.facts_of(address))
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            kept = actions.change_address(address, actor=request.user, **form.facts)
            tell(request, f"Changes to {kept.street} are kept.")
            return reverse("customers:show", args=[address.customer_id])

        return see(request, once(request, do))
    context = {"form": form, "customer": address.customer, "address": address}
    return render_form(request, "customers/address.html", context)


@office
@require_POST
def remove(request: StaffRequest, pk: int) -> HttpResponse:
    if before := answered(request):
        return see(request, before)
    address = get_object_or_404(Address, pk=pk)

    def do() -> str:
        actions.remove_address(address, actor=request.user)
        tell(
            request,
            f"{address.street} is taken off.",
            undo=reverse("customers:put_back_address", args=[_kept(address)]),
        )
        return reverse("customers:show", args=[address.customer_id])

    return see(request, once(request, do))


@office
@require_POST
def put_back(request: StaffRequest, kept: str) -> HttpResponse:
    try:
        pk, facts = signing.loads(kept, salt=UNDO_SALT, max_age=UNDO_SECONDS)
    except signing.BadSignature:
        raise SuspiciousOperation("That can no longer be taken back.") from None
    customer = get_object_or_404(Customer, pk=pk)

    def do() -> str:
        address = actions.add_address(customer, actor=request.user, **facts)
        tell(request, f"{address.street} is back.")
        return reverse("customers:show", args=[customer.pk])

    return see(request, once(request, do))


def _kept(address: Address) -> str:
    """A place as a signed word that puts it back within a few minutes."""
    facts = {name: getattr(address, name) for name in actions.PLACE}
    facts |= {name: None if facts[name] is None else str(facts[name]) for name in ("latitude", "longitude")}
    return signing.dumps([address.customer_id, facts], salt=UNDO_SALT, compress=True)
