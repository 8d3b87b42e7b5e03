"""The hours of a week in words."""

from collections.abc import Iterable
from datetime import time

SHORT_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def week_in_words(shifts: Iterable[tuple[int, time, time]]) -> str:
    """`Mon–Fri 08:00–17:00, Sat 09:00–13:00` of (weekday, starts, ends); neighbours with the same hours together."""
    runs: list[tuple[int, int, str]] = []
    for weekday, starts, ends in sorted(shifts):
        hours = f"{starts:%H:%M}–{ends:%H:%M}"
        if runs and runs[-1][1:] == (weekday - 1, hours):
            runs[-1] = (runs[-1][0], weekday, hours)
        else:
            runs.append((weekday, weekday, hours))
    return ", ".join(f"{_days(first, last)} {hours}" for first, last, hours in runs)


def _days(first: int, last: int) -> str:
    if first == last:
        return SHORT_DAYS[first]
    return f"{SHORT_DAYS[first]}{'–' if last > first + 1 else ', '}{SHORT_DAYS[last]}"
