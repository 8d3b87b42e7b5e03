"""Requests of authorities to see records: written down, opened once per record, answered; by the owner."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.actions.holds import check_owner
from jobs.actions.openings import open_guarded
from jobs.authority import current_rule
from jobs.errors import ReasonNeeded
from jobs.inspection import Row, kinds_to_open
from jobs.models import InspectionRequest, Job
from jobs.record_rules import Thing, Way, answer_until
from shop.errors import Refused
from shop.guarded import Permit
from shop.staff.models import Person


@transaction.atomic
def write_request(
    *,
    actor: Person,
    authority: str,
    received_on: date,
    way: Way | str,
    since: date | None = None,
    until: date | None = None,
    thing: Thing | str = "",
    only_keys: bool = False,
    job: Job | None = None,
    at: datetime | None = None,
) -> InspectionRequest:
    """Writes down that an authority asked, and starts the clock by the rule that the shop follows now.

    Raises Refused for a request from a day to come, and for one of neither a job nor a time.
    """
    check_owner(actor)
    moment = at or timezone.now()
    if received_on > timezone.localdate(moment):
        raise Refused("This day is still to come.", field="received_on")
    asked: dict[str, Any] = {"job": job}
    if job is None:
        if since is None or until is None:
            raise Refused("Give two days, or the number of a job.", field="since")
        if until < since:
            raise Refused("The last day comes before the first.", field="until")
        asked = {"since": since, "until": until, "thing": str(thing), "only_keys": only_keys}
    rule = current_rule()
    return InspectionRequest.objects.create(
        authority=authority.strip(),
        received_on=received_on,
        way=str(way),
        rule=rule,
        answer_by=answer_until(rule.rule, received_on, way=Way(way)),
        written_at=moment,
        written_by=actor,
        **asked,
    )


def reason_of(request: InspectionRequest) -> str:
    """The reason under which records are opened for a request."""
    return f"Request of {request.authority}, received {request.received_on:%Y-%m-%d}"[:200]


@transaction.atomic
def open_for_request(request: InspectionRequest, rows: Iterable[Row], *, actor: Person) -> dict[int, Permit]:
    """Opens what the rule wants of each record: one opening per record. Job id to permit. Raises Refused when the
    request is answered."""
    check_owner(actor)
    if request.answered_at:
        raise Refused("This request is answered. Write down a new one.")
    return {
        row.job.pk: open_guarded(row.job, actor=actor, kinds=kinds, reason=reason_of(request))
        for row in rows
        if (kinds := kinds_to_open(row))
    }


def still_open(rows: Iterable[Row], *, actor: Person) -> dict[int, Permit]:
    """Permits of openings by this person that still serve; records that are shut are left out."""
    found = {}
    for row in rows:
        if kinds := kinds_to_open(row):
            try:
                found[row.job.pk] = open_guarded(row.job, actor=actor, kinds=kinds)
            except ReasonNeeded:
                continue
    return found


@transaction.atomic
def answer_request(
    request: InspectionRequest, *, actor: Person, how: str = "", at: datetime | None = None
) -> InspectionRequest:
    """Stops the clock. Raises Refused when it was answered before."""
    check_owner(actor)
    fresh: InspectionRequest = InspectionRequest.objects.select_for_update(of=("self",)).get(pk=request.pk)
    if fresh.answered_at:
        raise Refused("This request is answered already.")
    fresh.answered_at, fresh.answered_by, fresh.answered_how = at or timezone.now(), actor, how.strip()[:200]
    fresh.save(update_fields=["answered_at", "answered_by", "answered_how"])
    return fresh
