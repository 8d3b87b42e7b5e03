"""The end of a visit on the phone: what is missing is asked, then the invoice is drawn up."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from billing.actions.handover import facts_of_money, finish_and_draft
from billing.forms.visit import FinishForm
from billing.prices import distance_from_shop, point_of
from jobs.authority import lacks_to_finish, needs_check
from jobs.models import AuthorityCheck, EventKind, PartUse, Visit
from jobs.rules import Lack, Missing, missing_to_finish
from jobs.states import USES_PARTS, VisitState
from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.models import Shop
from shop.once import once
from shop.staff.access import StaffRequest, technician


@technician
@require_http_methods(["GET", "POST"])
def finish(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = get_object_or_404(Visit.objects.for_user(request.user).with_job(), pk=visit_id)
    if visit.state != VisitState.ON_SITE:
        where = "billing:handover" if visit.state == VisitState.FINISHED else "jobs:visit"
        return redirect(where, visit.pk)
    parts = list(PartUse.objects.standing().filter(job=visit.job).select_related("item", "movement"))
    lacks = _lacks(visit, has_parts=bool(parts))
    form = _form(request, visit, lacks)
    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, lambda: _finished(request, visit, form)))
        except Refused as refused:
            form.refuse(refused)
    context = {"visit": visit, "job": visit.job, "form": form, "lacks": lacks, "parts": parts}
    context |= {
        "authority_lacks": lacks_to_finish(visit.job, known=facts_of_money(visit.job)),
        "is_check_due": needs_check(visit.job, AuthorityCheck.objects.of(visit.job)),
    }
    return render_form(request, "billing/finish.html", context)


def _finished(request: StaffRequest, visit: Visit, form: FinishForm) -> str:
    facts = {name: value for name, value in form.cleaned_data.items() if name != "nothing_used"}
    if finish_and_draft(visit, actor=request.user, **facts) is None:
        tell(request, "Finished. The job waits for another visit.")
        return reverse("jobs:round")
    tell(request, "Finished.")
    return reverse("billing:handover", args=[visit.pk])


def _lacks(visit: Visit, *, has_parts: bool) -> list[Lack]:
    job = visit.job
    return missing_to_finish(
        has_vehicle=job.vehicle is not None,
        vin=job.vehicle.vin if job.vehicle else "",
        set_off_at=visit.set_off_at,
        uses_parts=job.kind_of_work in USES_PARTS,
        has_parts=has_parts,
        has_words=job.events.filter(kind=EventKind.NOTE).exists(),
    )


def _form(request: StaffRequest, visit: Visit, lacks: list[Lack]) -> FinishForm:
    missing = {lack.what for lack in lacks}
    away = distance_from_shop(Shop.current(), point_of(visit.job))
    initial: dict[str, Any] = {
        "set_off_at": visit.set_off_at,
        "arrived_at": visit.arrived_at,
        "finished_at": timezone.now(),
        "drive_km": 2 * away if away is not None else None,
    }
    return FinishForm(
        request.POST or None,
        visit=visit,
        initial=initial,
        asks_parts=Missing.PARTS in missing,
        asks_vin=Missing.VIN in missing,
    )
