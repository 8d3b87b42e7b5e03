"""Finding jobs by what people have at hand, a page at a time, without counting them all."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time, timedelta
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q
from django.utils import timezone

from jobs.day.span import moment
from jobs.querysets import JobQuerySet
from jobs.states import OPEN_JOBS
from shop.customers.models import Customer
from shop.customers.querysets import digits_of
from vehicles.models import Vehicle

PAGE = 50
MIDNIGHT = time()
LONGEST_NUMBER = 16
MOST_FOUND = 200


@dataclass(frozen=True, slots=True)
class Page:
    """Jobs, youngest first; `later` and `earlier` are the queries of the pages beside this one, empty at an end."""

    jobs: list[Any]
    later: str
    earlier: str


def find_jobs(jobs: JobQuerySet, wanted: Mapping[str, Any], query: Mapping[str, str]) -> Page:
    """One page of the jobs that match. Pages hang on numbers, not on counts, so the millionth job costs no more."""
    found = _filtered(jobs, wanted).with_facts()
    before, after = _number(query.get("before")), _number(query.get("after"))
    if after is not None:
        rows = list(found.filter(number__gt=after).order_by("number")[: PAGE + 1])
        has_later, shown = len(rows) > PAGE, rows[:PAGE][::-1]
        has_earlier = True
    else:
        if before is not None:
            found = found.filter(number__lt=before)
        rows = list(found.order_by("-number")[: PAGE + 1])
        has_later, shown, has_earlier = before is not None, rows[:PAGE], len(rows) > PAGE
    kept = {name: value for name, value in query.items() if value and name not in {"before", "after"}}
    later = urlencode({**kept, "after": shown[0].number}) if shown and has_later else ""
    earlier = urlencode({**kept, "before": shown[-1].number}) if shown and has_earlier else ""
    return Page(shown, later, earlier)


def _filtered(jobs: JobQuerySet, wanted: Mapping[str, Any]) -> JobQuerySet:
    if state := wanted.get("state"):
        jobs = jobs.filter(state__in=OPEN_JOBS) if state == "open" else jobs.filter(state=state)
    if kind := wanted.get("kind"):
        jobs = jobs.filter(kind_of_work=kind)
    zone = timezone.get_current_timezone()
    if since := wanted.get("since"):
        jobs = jobs.filter(called_at__gte=moment(since, MIDNIGHT, zone))
    if until := wanted.get("until"):
        jobs = jobs.filter(called_at__lt=moment(until + timedelta(days=1), MIDNIGHT, zone))
    text = (wanted.get("q") or "").strip()
    return jobs.filter(_matching(text)) if text else jobs


def _matching(text: str) -> Q:
    """Jobs by number, customer, telephone number or vehicle. Who and which is looked up first, since a condition
    across tables would read every job."""
    customers = list(Customer.objects.matching(text).values_list("id", flat=True)[:MOST_FOUND])
    vehicles = list(Vehicle.objects.matching(text).values_list("id", flat=True)[:MOST_FOUND])
    found = Q(customer__in=customers) | Q(vehicle__in=vehicles)
    number = _number(text)
    if number is not None:
        found |= Q(number=number)
    if digits := digits_of(text):
        found |= Q(caller_phone__contains=digits)
    return found


def _number(text: str | None) -> int | None:
    bare = (text or "").strip()
    return int(bare) if bare.isascii() and bare.isdigit() and len(bare) < LONGEST_NUMBER else None
