"""What the site itself deletes: forms taken in, sessions that expired."""

from datetime import date
from typing import Any

from django.contrib.sessions.models import Session

from shop.keeping.days import begins, days_ago
from shop.keeping.rooms import Room, Step
from shop.models import SentForm

SENT_FORM_DAYS = 30


def _forms(day: date) -> Any:
    return SentForm.objects.filter(created_at__lt=days_ago(day, SENT_FORM_DAYS))


def _sessions(day: date) -> Any:
    return Session.objects.filter(expire_date__lt=begins(day))


ROOM = Room(
    steps=(
        Step(
            "sent_forms", "Keys of forms taken in", lambda day: _forms(day).count(), lambda day: _forms(day).delete()[0]
        ),
        Step(
            "sessions",
            "Sessions that expired",
            lambda day: _sessions(day).count(),
            lambda day: _sessions(day).delete()[0],
        ),
    )
)
