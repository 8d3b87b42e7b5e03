"""All customers, and those that match what is typed."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from shop.customers.models import Customer
from shop.customers.paging import page_of
from shop.http import is_htmx, typed
from shop.staff.access import StaffRequest, office


@office
@vary_on_headers("HX-Request")
@require_safe
def customers(request: StaffRequest) -> HttpResponse:
    text = typed(request)
    found = Customer.objects.matching(text).prefetch_related("phones", "addresses")
    page = page_of(found, after=request.GET.get("after", ""), before=request.GET.get("before", ""))
    template = "customers/list.html#found" if is_htmx(request) else "customers/list.html"
    return render(request, template, {"page": page, "text": text})
