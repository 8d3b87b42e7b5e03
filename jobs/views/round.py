"""The technician's round."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.round import load_round
from shop.staff.access import StaffRequest, technician


@technician
@require_safe
def round_page(request: StaffRequest) -> HttpResponse:
    return render(request, "jobs/round/round.html", {"round": load_round(request.user)})
