"""The first page: each role begins somewhere else."""

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from shop.staff.access import StaffRequest, everyone
from shop.staff.roles import Role

# Somebody with several roles begins where the first of these they hold leads: the office has a ringing phone, a
# technician a customer waiting, and the figures wait until the evening.
FIRST_PAGES = ((Role.OFFICE, "jobs:day"), (Role.TECHNICIAN, "jobs:round"), (Role.OWNER, "billing:margins"))


@everyone
@require_safe
def home(request: StaffRequest) -> HttpResponse:
    held = request.user.roles
    return redirect(next(route for role, route in FIRST_PAGES if role in held))
