"""Money on other pages: fragments that those load by themselves, and that stand as pages when opened directly."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from billing.earnings import margin_of, with_margin
from billing.models import Invoice, Quotation
from jobs.models import Job
from jobs.states import CLOSED_UNDONE
from shop.customers.models import Customer
from shop.http import is_htmx
from shop.staff.access import StaffRequest, office

MOST_INVOICES = 12


@office
@require_safe
def job_panel(request: StaffRequest, number: int) -> HttpResponse:
    """Price told, invoice and payments of a job; for the owner what it earned."""
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    invoice = Invoice.objects.filter(job=job).first()
    context = {
        "job": job,
        "told": Quotation.objects.standing_of(job),
        "invoice": invoice,
        "may_price": not (invoice and invoice.number) and job.state not in CLOSED_UNDONE,
        "payments": list(invoice.payment_parts.select_related("payment").order_by("pk")) if invoice else [],
        "margin": margin_of(with_margin(Job.objects.filter(pk=job.pk)).get()) if request.user.is_owner else None,
        "frame": "billing/panel_bare.html" if is_htmx(request) else "billing/panel_page.html",
    }
    return render(request, "billing/job_panel.html", context)


@office
@require_safe
def customer_panel(request: StaffRequest, customer_id: int) -> HttpResponse:
    """What a customer owes, the oldest first, and the last invoices that are paid."""
    customer = get_object_or_404(Customer, pk=customer_id)
    every = Invoice.objects.filter(customer=customer).select_related("job")
    today = timezone.localdate()
    context = {
        "customer": customer,
        "today": today,
        "sums": every.unpaid().sums(),
        "overdue": every.overdue(today).sums(),
        "unpaid": every.unpaid().order_by("due_on", "pk")[:MOST_INVOICES],
        "drafts": every.drafts().order_by("-pk")[:MOST_INVOICES],
        "paid": every.paid_up().newest_first()[:5],
        "frame": "billing/panel_bare.html" if is_htmx(request) else "billing/panel_page.html",
    }
    return render(request, "billing/customer_panel.html", context)
