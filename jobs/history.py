"""What an event of a job says beside its name."""

from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.dateparse import parse_datetime

from jobs.models import EventKind, JobEvent
from jobs.states import KindOfWork, LockedIn

PLACED = frozenset({EventKind.BOOKED, EventKind.MOVED, EventKind.UNBOOKED})
NAMES = {
    "kind_of_work": "Kind of work",
    "locked_in": "Locked in",
    "description": "What happened",
    "caller_name": "Caller",
    "caller_phone": "Caller's phone",
    "owner_name": "Owner",
    "proof_offered": "How ownership can be shown",
    "payer": "Who pays",
    "payer_note": "About the payment",
    "purchase_order": "Their order number",
    "access_notes": "How to get in",
    "promise_from": "Promised from",
    "promise_until": "Promised until",
    "expected_minutes": "Expected minutes",
    "vin": "VIN",
    "comeback_of": "Comeback of",
    "set_off_at": "Set off",
    "arrived_at": "Arrived",
    "finished_at": "Finished",
}
CHOICES: dict[str, dict[str, str]] = {
    "kind_of_work": {str(value): label for value, label in KindOfWork.choices},
    "locked_in": {str(value): label for value, label in LockedIn.choices},
}
# Two numbers of one fact: the place in degrees is told once.
FOLDED = {"latitude": "Coordinates", "longitude": ""}


def event_lines(event: JobEvent) -> list[str]:
    """Where a visit was put, or each fact that changed with old and new."""
    details = event.details
    if event.kind in PLACED and "start" in details:
        here = _place(details)
        before = details.get("before")
        return [f"{here}; before {_place(before)}" if before else here]
    return [_change(name, *pair) for name, pair in details.items() if isinstance(pair, list) and len(pair) == 2]


def _place(details: dict[str, Any]) -> str:
    start, end = (parse_datetime(details[name]) for name in ("start", "end"))
    if start is None or end is None:
        return str(details["technician"])
    return f"{details['technician']}, {_when(start)} to {timezone.localtime(end):%H:%M}"


def _change(name: str, old: Any, new: Any) -> str:
    label = FOLDED.get(name) or NAMES.get(name) or name.replace("_", " ").capitalize()
    return f"{label}: {_shown(name, old)} → {_shown(name, new)}"


def _shown(name: str, value: Any) -> str:
    if value in (None, ""):
        return "nothing"
    if name in CHOICES:
        return CHOICES[name].get(str(value), str(value))
    try:
        at = parse_datetime(value) if isinstance(value, str) and "T" in value else None
    except ValueError:
        at = None
    return _when(at) if at and timezone.is_aware(at) else str(value)


def _when(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
