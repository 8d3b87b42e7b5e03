"""The list of jobs, searched and filtered; and a customer's jobs as a piece of their page."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.finding import find_jobs
from jobs.forms import FindForm
from jobs.models import Job
from shop.customers.models import Customer
from shop.staff.access import StaffRequest, office

CUSTOMER_JOBS_SHOWN = 8


@office
@require_safe
def jobs(request: StaffRequest) -> HttpResponse:
    form = FindForm(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    page = find_jobs(Job.objects.for_user(request.user), wanted, request.GET)
    return render(request, "jobs/list.html", {"form": form, "page": page, "is_filtered": any(wanted.values())})


@office
@require_safe
def customer_panel(request: StaffRequest, customer_id: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    own = Job.objects.for_user(request.user).filter(customer=customer).with_facts().order_by("-number")
    found = list(own[: CUSTOMER_JOBS_SHOWN + 1])
    context = {"customer": customer, "jobs": found[:CUSTOMER_JOBS_SHOWN], "has_more": len(found) > CUSTOMER_JOBS_SHOWN}
    return render(request, "jobs/customer_panel.html", context)
