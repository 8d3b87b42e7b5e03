"""What the rules of jobs refuse, in words fit to show."""

from collections.abc import Sequence

from shop.errors import Refused


class AlreadyBooked(Refused):
    """The technician has another visit in that time."""


class WrongState(Refused):
    """The job or visit is not in a state in which this can be done."""


class MovedMeanwhile(WrongState):
    """The office moved the visit after the technician last saw it."""


class ReasonNeeded(Refused):
    """Guarded data is opened only with a reason; none was given and no earlier opening serves."""


class AuthorityLacks(Refused):
    """The record rule still wants something; `lacks` are lines fit to show."""

    def __init__(self, lacks: Sequence[str], *, before: str = "") -> None:
        self.lacks = list(lacks)
        super().__init__(" ".join(part for part in (before, *self.lacks) if part))
