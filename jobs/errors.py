"""What the rules of jobs refuse, in words fit to show."""

from shop.errors import Refused


class AlreadyBooked(Refused):
    """The technician has another visit in that time."""


class WrongState(Refused):
    """The job or visit is not in a state in which this can be done."""


class MovedMeanwhile(WrongState):
    """The office moved the visit after the technician last saw it."""
