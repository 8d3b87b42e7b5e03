"""The baselines that need no app: B0, a short text, and B2, one row inserted and committed."""

from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST, require_safe

from shop.bench.registry import baseline
from shop.models import SentForm

BENCH_PATH = "bench"


@baseline("B0")
@require_safe
def short_text(request: HttpRequest) -> HttpResponse:
    """As little as a view can answer, behind the same middleware as every page."""
    return HttpResponse("ok", content_type="text/plain")


@baseline("B2")
@require_POST
def one_row(request: HttpRequest) -> HttpResponse:
    """One row, committed before the answer; the answer names the row."""
    row = SentForm.objects.create(key=uuid4(), path=BENCH_PATH)
    return HttpResponse(str(row.key), content_type="text/plain")
