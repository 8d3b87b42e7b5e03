"""Handing over on the phone: keys shown to work, the price, the invoice, the money."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from billing import actions
from billing.actions.handover import hand_over, handed_over
from billing.forms.payment import PaymentForm
from billing.forms.visit import HandOverForm
from billing.models import Invoice, Quotation
from jobs.models import Job, Visit
from jobs.states import VisitState
from shop.errors import Refused
from shop.http import render_form, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, technician


@technician
@require_http_methods(["GET", "POST"])
def handover(request: StaffRequest, visit_id: int) -> HttpResponse:
    """One page from the keys to the receipt; the next step stands at its bottom."""
    visit = get_object_or_404(Visit.objects.for_user(request.user).with_job(), pk=visit_id)
    if visit.state != VisitState.FINISHED or visit.job.is_open:
        return redirect("jobs:visit", visit.pk)
    form = HandOverForm(request.POST or None)
    here = reverse("billing:handover", args=[visit.pk])
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            hand_over(visit.job, actor=request.user, **form.cleaned_data)
            tell(request, "Handed over.")
            return here

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    invoice = _invoice(visit.job)
    context = {
        "visit": visit,
        "job": visit.job,
        "form": form,
        "here": here,
        "given": handed_over(visit.job),
        "invoice": invoice,
        "told": Quotation.objects.standing_of(visit.job),
        "asked": Quotation.objects.unanswered_of(visit.job),
        "difference": invoice.total - invoice.price_told if invoice and invoice.price_told is not None else None,
        "lines": list(invoice.lines.all()) if invoice else [],
        "payments": list(invoice.payment_parts.select_related("payment").order_by("pk")) if invoice else [],
        "pay": PaymentForm(invoice=invoice, auto_id="pay_%s") if invoice else None,
    }
    return render_form(request, "billing/handover.html", context)


@technician
@require_http_methods(["POST"])
def draft(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Draws up the invoice of a job that has none yet."""
    visit = get_object_or_404(Visit.objects.for_user(request.user).with_job(), pk=visit_id)

    def do() -> str:
        actions.draft_invoice(visit.job, actor=request.user)
        return reverse("billing:handover", args=[visit.pk])

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, reverse("jobs:visit", args=[visit.pk]))


def _invoice(job: Job) -> Invoice | None:
    found: Invoice | None = Invoice.objects.with_parties().filter(job=job).first()
    return found
