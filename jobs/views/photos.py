"""Photos of jobs, shown only to those who may see the job."""

from pathlib import Path

from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from jobs.models import Job, Photo
from shop.pictures import make_small
from shop.staff.access import StaffRequest, everyone

# What is shown as a picture; anything else is only handed over as a file.
PICTURES = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


@everyone
@require_safe
def photo(request: StaffRequest, photo_id: int) -> HttpResponse:
    seen = Q(job__in=Job.objects.for_user(request.user)) | Q(taken_by=request.user)
    kept = get_object_or_404(Photo.objects.filter(seen), pk=photo_id)
    kind = PICTURES.get(Path(str(kept.file)).suffix.lower())
    is_small = "small" in request.GET and kind is not None
    response = HttpResponse(
        _content(kept, is_small=is_small),
        content_type="image/jpeg" if is_small else kind or "application/octet-stream",
    )
    name = Path(str(kept.file)).name
    if handed_over := content_disposition_header(kind is None, name):
        response["Content-Disposition"] = handed_over
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _content(kept: Photo, *, is_small: bool) -> bytes:
    """The whole photo, which is never large (`shop.pictures`), or as lists show it on a slow line."""
    try:
        # Not sent piece by piece: under ASGI that would hold a thread of its own.
        with kept.file.open() as file:
            return make_small(file) if is_small else file.read()
    except FileNotFoundError:
        raise Http404("This photo's file is not there.") from None
