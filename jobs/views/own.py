"""Fetches a technician's own visit, and tells in words when it is theirs no more."""

from collections.abc import Callable
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from jobs.models import EventKind, JobEvent, Visit
from shop.staff.access import StaffRequest, View, technician

OwnView = Callable[..., HttpResponse]
# What a technician may have typed into one of the forms of a visit.
TYPED = ("words", "reason", "vin", "quantity")


def on_own_visit(view: OwnView) -> View:
    """Gives the view the technician's own visit instead of its id; anybody else's is not there (404)."""

    @technician
    @wraps(view)
    def with_visit(request: StaffRequest, visit_id: int, *args: object, **kwargs: object) -> HttpResponse:
        visit = Visit.objects.own(request.user).with_job().filter(pk=visit_id).first()
        return view(request, visit, *args, **kwargs) if visit else _gone(request, visit_id)

    return with_visit


def _gone(request: HttpRequest, visit_id: int) -> HttpResponse:
    """A visit given to somebody else since: no facts of it, but the words for it, and what was typed meanwhile."""
    held = JobEvent.objects.filter(visit=visit_id, kind__in=[EventKind.BOOKED, EventKind.MOVED])
    if not held.filter(details__technician_id=request.user.pk).exists():
        raise Http404
    last = held.select_related("visit__technician", "job").latest("recorded_at", "id")
    typed = [text for name in TYPED if (text := request.POST.get(name, "").strip())]
    context = {"moved": last, "typed": "\n".join(typed), "was_sent": request.method == "POST"}
    return render(request, "jobs/round/gone.html", context, status=404)
