"""The day sheet: who goes where, when, and what is in danger."""

from datetime import date

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from jobs.views.sheet import draw_sheet, read_day, read_number, today
from shop.staff.access import StaffRequest, office


@office
@require_safe
def day(request: StaffRequest, day: date | None = None) -> HttpResponse:
    if wanted := read_day(request.GET.get("on")):
        return redirect("jobs:day", wanted)
    return draw_sheet(request, day or today(), read_number(request.GET.get("job")))
