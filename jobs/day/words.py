"""Times of a promise in words."""

from datetime import datetime, timedelta, tzinfo

from jobs.day.span import MINUTE
from jobs.rules import minutes_late

DAY = timedelta(days=1)
A_LONG_TIME = 180


def window_words(start: datetime, end: datetime, *, now: datetime, zone: tzinfo) -> str:
    """`14:00–15:00`, with the day before it when that is not today."""
    first, last, today = start.astimezone(zone), end.astimezone(zone), now.astimezone(zone).date()
    clocks = f"{first:%H:%M}–{last:%H:%M}"
    if first.date() == today:
        return clocks
    if first.date() == today + DAY:
        return f"tomorrow {clocks}"
    return f"{first:%a} {first.day} {first:%b} {clocks}"


def left_words(until: datetime, *, now: datetime) -> str:
    """`35 min left`, `12 min late`; hours when it is long, nothing beyond a day ahead."""
    late = minutes_late(now, until)
    if late:
        return f"{late_words(late)} late"
    left = (until - now) // MINUTE
    if left >= DAY // MINUTE:
        return ""
    return f"{left} min left" if left < A_LONG_TIME else f"{left // 60} h left"


def late_words(minutes: int) -> str:
    """`12 min`; days once it is no longer a matter of minutes."""
    days = minutes // (DAY // MINUTE)
    return f"{minutes} min" if not days else f"{days} day" + ("s" if days > 1 else "")
