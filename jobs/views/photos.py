"""Photos of jobs, shown only to those who may see the job."""

from pathlib import Path

from django.http import FileResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from jobs.models import Job, Photo
from shop.staff.access import StaffRequest, everyone

# What is shown as a picture; anything else is only handed over as a file.
PICTURES = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


@everyone
@require_safe
def photo(request: StaffRequest, photo_id: int) -> HttpResponseBase:
    kept = get_object_or_404(Photo.objects.filter(job__in=Job.objects.for_user(request.user)), pk=photo_id)
    kind = PICTURES.get(Path(str(kept.file)).suffix.lower())
    response = FileResponse(kept.file.open(), as_attachment=kind is None, content_type=kind)
    response["Cache-Control"] = "private, max-age=86400"
    response["X-Content-Type-Options"] = "nosniff"
    return response
