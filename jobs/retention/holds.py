"""Jobs of which nothing is deleted for now."""

from datetime import date
from typing import Any

from django.db.models import Q

from jobs.inspection import Asked, jobs_asked
from jobs.models import Hold, InspectionRequest, Job


def jobs_under_hold(on: date) -> Any:
    """Jobs under a hold of their own or of their customer, and those that an unanswered request asks for."""
    holds = Hold.objects.standing(on)
    found = Q(pk__in=holds.filter(job__isnull=False).values("job"))
    found |= Q(customer__in=holds.filter(customer__isnull=False).values("customer"))
    for request in InspectionRequest.objects.pending():
        found |= Q(pk__in=jobs_asked(Asked.by(request)).order_by().values("pk"))
    return Job.objects.filter(found)
