"""Proposed versions: the inbox, accepted or rejected."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone, office
from vehicles.actions import accept_version, reject_version
from vehicles.difference import difference
from vehicles.know_forms import RejectForm
from vehicles.models import ProcedureVersion
from vehicles.procedure_rules import why_not_decide
from vehicles.reads_know import content_of
from vehicles.states import VersionState


@everyone
@require_safe
def proposals(request: StaffRequest) -> HttpResponse:
    """What waits for a decision, the oldest first."""
    waiting = ProcedureVersion.objects.proposed().select_related(
        "procedure__family", "procedure__variant", "proposed_by", "based_on"
    )
    return render(request, "vehicles/know/proposals.html", {"proposals": waiting.order_by("proposed_at")[:200]})


@office
@require_http_methods(["GET", "POST"])
def decide(request: StaffRequest, version_id: int) -> HttpResponse:
    """One proposal beside what is in force, and beside what it was made from when that is another."""
    version = get_object_or_404(ProcedureVersion.objects.with_steps(), pk=version_id)
    in_force = version.procedure.versions.accepted().with_steps().first()
    base = version.based_on
    form = RejectForm(request.POST if request.POST.get("do") == "reject" else None)
    refused_words = ""
    if request.method == "POST":
        try:
            if form.is_bound and form.is_valid():
                return see(request, once(request, lambda: _reject(request, version, form.cleaned_data["reason"])))
            if request.POST.get("do") == "accept":
                return see(request, once(request, lambda: _accept(request, version)))
        except Refused as refused:
            if form.is_bound:
                form.refuse(refused)
            refused_words = "" if form.is_bound else str(refused)
    is_on_old = in_force is not None and in_force.pk != version.pk and (base is None or base.pk != in_force.pk)
    context = {
        "version": version,
        "procedure": version.procedure,
        "family": version.procedure.family,
        "in_force": in_force,
        "form": form,
        "refused_words": refused_words,
        "is_on_old": is_on_old and version.state == VersionState.PROPOSED,
        "difference": difference(content_of(in_force), content_of(version)) if in_force else None,
        "since": difference(content_of(base), content_of(in_force)) if is_on_old and base and in_force else None,
        "why_not": why_not_decide(request.user, version),
        "content": content_of(version),
    }
    response = render_form(request, "vehicles/know/decide.html", context)
    if refused_words:
        response.status_code = 422
    return response


def _accept(request: StaffRequest, version: ProcedureVersion) -> str:
    knows_of = request.POST.get("knows_of", "")
    number = int(knows_of) if knows_of.isascii() and knows_of.isdecimal() and len(knows_of) < 7 else None
    accept_version(version, actor=request.user, knows_of=number)
    tell(request, f"Version {version.number} is in force.")
    return reverse("vehicles:procedure", args=[version.procedure_id])


def _reject(request: StaffRequest, version: ProcedureVersion, reason: str) -> str:
    reject_version(version, actor=request.user, reason=reason)
    tell(request, f"Version {version.number} is rejected.")
    return reverse("vehicles:proposals")
