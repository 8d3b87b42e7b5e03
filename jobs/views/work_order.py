"""The work order with authority, to print. It is never kept as a file: what it opens stays sealed on the disk."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from jobs.identity import OpenedIdentity, opened
from jobs.models import AuthorityCheck, Job
from jobs.views.guarded import permit_or_ask
from jobs.work_order import draw_work_order, kinds_shown
from shop.staff.access import StaffRequest, everyone


@everyone
@never_cache
@require_http_methods(["GET", "POST"])
def work_order(request: StaffRequest, number: int) -> HttpResponse:
    jobs = Job.objects.for_user(request.user).select_related("customer", "vehicle")
    job = get_object_or_404(jobs, number=number)
    check: AuthorityCheck | None = AuthorityCheck.objects.of(job)
    identity = OpenedIdentity()
    if check and (kinds := kinds_shown(job, check)):
        leave = permit_or_ask(request, job, kinds, what="the work order with authority")
        if isinstance(leave, HttpResponse):
            return leave
        identity = opened(check, leave)
    return render(request, "jobs/authority/work_order.html", {"paper": draw_work_order(job, check, identity)})
