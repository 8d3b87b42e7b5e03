"""The shop's facts and settings."""

from zoneinfo import available_timezones

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from shop.actions import change_shop
from shop.http import render_form, see, tell
from shop.models import Shop
from shop.once import once
from shop.staff.access import StaffRequest, owner
from shop.staff.forms import ShopForm


@owner
@require_http_methods(["GET", "POST"])
def shop_facts(request: StaffRequest) -> HttpResponse:
    Shop.forget()
    form = ShopForm(request.POST or None, initial=ShopForm.facts_of(Shop.current()))
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            change_shop(actor=request.user, **form.facts)
            tell(request, "The shop's settings are kept.")
            return reverse("staff:shop")

        return see(request, once(request, do))
    return render_form(request, "staff/shop.html", {"form": form, "time_zones": sorted(available_timezones())})
