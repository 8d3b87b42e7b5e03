"""What is kept of one customer and why; their data as a file; erasing. For the owner."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.erasures import duties_of, erase_customer
from jobs.actions.exports import ask_for_export
from jobs.forms.keeping import EraseForm, ExportForm
from jobs.models import DataExport, Erasure
from jobs.models.keeping import EXPORTS_STORAGE
from jobs.retention.sweeps import EXPORT_DAYS
from shop.customers.models import Customer
from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, owner

EXPORT, ERASE = "export", "erase"


@owner
@require_http_methods(["GET", "POST"])
def customer_data(request: StaffRequest, customer_id: int) -> HttpResponse:
    """Two forms on one page; `act` says which was sent."""
    customer = get_object_or_404(Customer, pk=customer_id)
    act = request.POST.get("act", "") if request.method == "POST" else ""
    export_form = ExportForm(request.POST if act == EXPORT else None)
    erase_form = EraseForm(request.POST if act == ERASE else None)
    sent = {EXPORT: export_form, ERASE: erase_form}.get(act)
    if sent is not None and sent.is_valid():

        def do() -> str:
            return _do(request, customer, act, sent.cleaned_data["reason"])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            sent.refuse(refused)
    context = {"form": sent, "export_form": export_form, "erase_form": erase_form, **_facts(customer)}
    return render_form(request, "jobs/keeping/customer.html", context)


def _do(request: StaffRequest, customer: Customer, act: str, reason: str) -> str:
    if act == EXPORT:
        ask_for_export(customer, actor=request.user, reason=reason)
        tell(request, "The file is being made.")
    else:
        erasure = erase_customer(customer, actor=request.user, reason=reason)
        tell(request, "Erased." if erasure.done_at else "Erased as far as no duty stands. The rest goes in its night.")
    return reverse("jobs:customer_data", args=[customer.pk])


def _facts(customer: Customer) -> dict[str, Any]:
    duties = duties_of(customer, timezone.localdate())
    return {
        "customer": customer,
        "duties": duties,
        "against": [duty for duty in duties if duty.keeps_all],
        "exports": DataExport.objects.filter(customer=customer).select_related("person"),
        "erasures": Erasure.objects.filter(customer=customer).order_by("-pk"),
        "export_days": EXPORT_DAYS,
    }


@owner
@never_cache
@require_safe
def export_state(request: StaffRequest, export_id: int) -> HttpResponse:
    export = get_object_or_404(DataExport, pk=export_id)
    return render(request, "jobs/keeping/export_state.html", {"export": export})


@owner
@never_cache
@require_safe
def export_file(request: StaffRequest, export_id: int) -> HttpResponse:
    """The file, decrypted on its way to the owner."""
    export = get_object_or_404(DataExport, pk=export_id)
    if not export.file:
        raise Http404
    content = EXPORTS_STORAGE.read(str(export.file.name))
    name = f"customer-{export.customer_id}-{timezone.localdate(export.asked_at):%Y-%m-%d}.zip"
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "X-Content-Type-Options": "nosniff"}
    return HttpResponse(content, content_type="application/zip", headers=headers)
