"""Calls that are no jobs: kept while they are typed, taken up again, thrown away."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

import jobs.actions as jobs
from billing.actions.calls import end_call
from billing.calls import THROWN_AWAY, ended_calls, is_worth_keeping, unfinished_calls
from billing.views.slip import typed_of
from jobs.models import CallDraft
from shop.http import see, tell
from shop.models import SentForm
from shop.staff.access import StaffRequest, office


@office
@require_GET
def calls(request: StaffRequest) -> HttpResponse:
    """Calls not finished, and those of the last thirty days that ended without a job."""
    return render(request, "billing/calls.html", {"unfinished": unfinished_calls(), "ended": ended_calls()})


@office
@require_POST
def keep_draft(request: StaffRequest, key: UUID) -> HttpResponse:
    """Keeps what is typed so far; sent by the page every few seconds and as it is left."""
    typed = typed_of(request.POST)
    if is_worth_keeping(typed) and not SentForm.objects.filter(key=key).exists():
        jobs.keep_draft(key, actor=request.user, typed=typed)
    return HttpResponse(status=204)


@office
@require_POST
def throw_away(request: StaffRequest, key: UUID) -> HttpResponse:
    """Puts an unfinished call among the ended ones."""
    draft = get_object_or_404(CallDraft, key=key)
    end_call(key, actor=request.user, typed=draft.typed, reason=THROWN_AWAY)
    tell(request, "Thrown away. It can be taken up again for 30 days.")
    return see(request, reverse("billing:calls"))
