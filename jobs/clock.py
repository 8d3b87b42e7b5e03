"""How long is left to answer a request of an authority. Plain days."""

from dataclasses import dataclass
from datetime import date, timedelta

SATURDAY = 5


@dataclass(frozen=True)
class Clock:
    """The last day for the answer (None: the rule names none) and the days left on a day, counted as the rule counts.

    0 days left: the last day is today; below 0: so many days late.
    """

    answer_by: date | None
    left: int = 0
    in_business_days: bool = False

    @property
    def is_late(self) -> bool:
        return self.answer_by is not None and self.left < 0

    @property
    def is_near(self) -> bool:
        return self.answer_by is not None and 0 <= self.left <= 1

    @property
    def words(self) -> str:
        if self.answer_by is None:
            return "No time named by the rule"
        days = f"{abs(self.left)} {'business ' if self.in_business_days else ''}day{'' if abs(self.left) == 1 else 's'}"
        if self.left == 0:
            return "Last day today"
        return f"{days} late" if self.left < 0 else f"{days} left"


def clock(answer_by: date | None, *, today: date, in_business_days: bool) -> Clock:
    """Days of business leave out Saturdays and Sundays; public holidays count as days, so the true end may be later."""
    if answer_by is None:
        return Clock(None)
    first, last, sign = (today, answer_by, 1) if today <= answer_by else (answer_by, today, -1)
    days = (first + timedelta(days=number) for number in range(1, (last - first).days + 1))
    count = sum(1 for day in days if not (in_business_days and day.weekday() >= SATURDAY))
    # Late on a Saturday is late, though no day of business has passed.
    return Clock(answer_by, sign * max(count, 1 if sign < 0 else 0), in_business_days)
