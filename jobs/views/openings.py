"""Every opening of guarded data, and the proof that none was altered or removed."""

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.actions.openings import numbers_given_out, sign
from jobs.models import AuthorityCheck, Opening
from jobs.opening_chain import verify_openings
from shop.staff.access import StaffRequest, owner

ON_A_PAGE = 50


@owner
@require_safe
def openings(request: StaffRequest) -> HttpResponse:
    links = Opening.objects.as_links()
    found = verify_openings(links, given_out=numbers_given_out(), sign=sign)
    job = request.GET.get("job", "").strip()
    rows = Opening.objects.order_by("-number")
    if job:
        rows = rows.filter(job_number=int(job)) if job.isdigit() and len(job) < 15 else rows.none()
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    last = max(links, key=lambda link: link.number, default=None)
    context = {"page": page, "found": found, "count": len(links), "last": last, "job": job}
    context["asked"] = list(AuthorityCheck.objects.asked())
    return render(request, "jobs/guarded/openings.html", context)
