"""What the app of people deletes: attempts to sign in."""

from datetime import date, timedelta
from typing import Any

from shop.keeping.days import days_ago
from shop.keeping.rooms import Room, Step
from shop.staff.models import SignInTry
from shop.staff.rules import KNOWN_FOR

# A day longer than the guard against guessing looks back.
TRY_DAYS = (KNOWN_FOR + timedelta(days=1)).days


def _tries(day: date) -> Any:
    return SignInTry.objects.filter(at__lt=days_ago(day, TRY_DAYS))


ROOM = Room(
    steps=(
        Step(
            "sign_in_tries", "Attempts to sign in", lambda day: _tries(day).count(), lambda day: _tries(day).delete()[0]
        ),
    )
)
