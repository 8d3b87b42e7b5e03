"""How often a wrong sign-in may be tried before the next has to wait."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

WINDOW = timedelta(minutes=15)
KNOWN_FOR = timedelta(days=30)
KEPT_WRONG = timedelta(days=1)

# One person mistyping at one place; one e-mail guessed from many places; many e-mails guessed from one place. The
# last two do not bind somebody who has signed in from that place lately, so that a stranger who guesses cannot lock
# out the shop, nor one forgetful person the others behind the same address.
MOST_FOR_BOTH = 8
MOST_FOR_EMAIL = 40
MOST_FOR_ADDRESS = 40


@dataclass(frozen=True)
class Limit:
    """A limit, and the moments of the wrong tries that count against it, the newest first."""

    most: int
    wrong_at: Sequence[datetime]


def minutes_to_wait(limits: Sequence[Limit], *, now: datetime) -> int:
    """Minutes until the next try is looked at, rounded up; 0 when it is looked at now."""
    return max((_wait(limit, now) for limit in limits), default=0)


def _wait(limit: Limit, now: datetime) -> int:
    if len(limit.wrong_at) < limit.most:
        return 0
    left = limit.wrong_at[limit.most - 1] + WINDOW - now
    return max(0, ceil(left / timedelta(minutes=1)))
