"""Papers handed out: only here, only to those who may see them, under a name that says what they are."""

from pathlib import Path

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from billing.actions.waiting import ask_for_invoice_paper, ask_for_receipt
from billing.models import Invoice, Payment
from shop.staff.access import StaffRequest, everyone


@everyone
@require_safe
def paper(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """The PDF of an invoice; while it is being made, a page that waits for it."""
    invoice = get_object_or_404(Invoice.objects.for_user(request.user).issued(), pk=invoice_id)
    if not _is_there(invoice.paper):
        ask_for_invoice_paper(invoice)
        return render(request, "billing/paper_waiting.html", {"invoice": invoice}, status=202)
    return _handed(request, invoice.paper.path, f"Invoice {invoice.number}.pdf")


@everyone
@require_safe
def receipt(request: StaffRequest, payment_id: int) -> HttpResponse:
    """The PDF receipt of a payment; while it is being made, a page that waits for it."""
    payment = get_object_or_404(Payment.objects.for_user(request.user), pk=payment_id)
    if not _is_there(payment.receipt):
        ask_for_receipt(payment)
        return render(request, "billing/paper_waiting.html", {"payment": payment}, status=202)
    return _handed(request, payment.receipt.path, f"Receipt {payment.number}.pdf")


@everyone
@require_safe
def paper_state(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """The link to the PDF, or that it is being made: the one fragment that asks again by itself."""
    invoice = get_object_or_404(Invoice.objects.for_user(request.user).issued(), pk=invoice_id)
    return render(request, "billing/paper_state.html", {"invoice": invoice})


@everyone
@require_safe
def receipt_state(request: StaffRequest, payment_id: int) -> HttpResponse:
    """The link to the receipt, or that it is being made."""
    payment = get_object_or_404(Payment.objects.for_user(request.user), pk=payment_id)
    return render(request, "billing/receipt_state.html", {"payment": payment})


def _is_there(file: object) -> bool:
    return bool(file) and Path(file.path).exists()  # type: ignore[attr-defined]


def _handed(request: StaffRequest, path: str, name: str) -> HttpResponse:
    # Read whole: a paper is small, and a file sent piece by piece would hold a thread of its own under ASGI.
    response = HttpResponse(Path(path).read_bytes(), content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header("save" in request.GET, name) or ""
    response["Cache-Control"] = "private, no-cache"
    return response
