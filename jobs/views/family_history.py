"""What came of earlier work on a family: a part of the pages that know the vehicle."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.running.history import FamilyHistory, load_history
from jobs.states import KindOfWork
from shop.http import is_htmx
from shop.staff.access import StaffRequest, everyone


@everyone
@require_safe
def family_history(request: StaffRequest) -> HttpResponse:
    """For `family`, and `kind` of work if given."""
    pk, kind = _number(request, "family"), request.GET.get("kind", "")
    kind = kind if kind in KindOfWork.values else ""
    told = load_history(pk, kind) if pk else FamilyHistory(0)
    frame = "jobs/key/bare.html" if is_htmx(request) else "jobs/running/history_page.html"
    words = KindOfWork(kind).label if kind else ""
    return render(request, "jobs/running/history.html", {"told": told, "kind": words, "frame": frame})


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None
