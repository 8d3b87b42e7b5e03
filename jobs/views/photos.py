"""Photos of jobs, shown only to those who may see the job."""

from pathlib import Path

from django.db.models import Q
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from jobs.models import Job, Photo
from shop.pictures import make_small
from shop.staff.access import StaffRequest, everyone

# What is shown as a picture; anything else is only handed over as a file.
PICTURES = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


@everyone
@require_safe
def photo(request: StaffRequest, photo_id: int) -> HttpResponseBase:
    seen = Q(job__in=Job.objects.for_user(request.user)) | Q(taken_by=request.user)
    kept = get_object_or_404(Photo.objects.filter(seen), pk=photo_id)
    kind = PICTURES.get(Path(str(kept.file)).suffix.lower())
    if "small" in request.GET and kind:
        return _kept_private(HttpResponse(_small(kept), content_type="image/jpeg"))
    response = FileResponse(kept.file.open(), as_attachment=kind is None, content_type=kind)
    return _kept_private(response)


def _small(kept: Photo) -> bytes:
    """The picture as lists show it, so that a page with ten photos stays small on a slow line."""
    with kept.file.open() as file:
        return make_small(file)


def _kept_private(response: HttpResponseBase) -> HttpResponseBase:
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response
