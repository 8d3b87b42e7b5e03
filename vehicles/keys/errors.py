"""What can be wrong with key data, readings and answers, in words fit to show.

Every error is a ValueError whose text can be put in front of the person who typed
the data; `str(error)` is that text.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal


class KeysError(ValueError):
    """Base of all refusals of the key core."""


class BadLength(KeysError):
    """A length that is not a finite number."""


class ImpossibleSystem(KeysError):
    """Key system data that no lock could have. `field` names the argument at fault."""

    def __init__(self, field: str, words: str) -> None:
        super().__init__(words)
        self.field = field


class BadRule(KeysError):
    """A series rule that is unknown or does not fit the key system."""


class BadBitting(KeysError):
    """Labels that are not in the system, or too many or too few cuts.

    `position` is the first place at fault, counted from 1.
    """

    def __init__(self, position: int, words: str) -> None:
        super().__init__(words)
        self.position = position


class TooManyBittings(KeysError):
    """More bittings than the caller is ready to list; `count` says how many."""

    def __init__(self, count: int, limit: int) -> None:
        super().__init__(
            f"{count:,} bittings fit, more than the {limit:,} that can be listed. Read one more cut first."
        )
        self.count = count
        self.limit = limit


class BadReadings(KeysError):
    """Readings that fit no depth of the system; `positions` counts from 1."""

    def __init__(self, positions: Sequence[int], words: str) -> None:
        super().__init__(words)
        self.positions = tuple(positions)


class UnitsDoubt(KeysError):
    """The readings fit no depth as millimetres but all fit in another unit.

    `unit` is the unit they seem to be in ("in", "thou" for thousandths of an inch, or
    "mm" when millimetres had already been taken for inches), `readings_mm` the readings
    converted, ready to be decoded once the person has agreed.
    """

    def __init__(self, unit: str, words: str, readings_mm: Sequence[Decimal | None]) -> None:
        super().__init__(words)
        self.unit = unit
        self.readings_mm = tuple(readings_mm)


class BadAnswer(KeysError):
    """An answer that is not one of the known ones, or names a lock the system lacks."""


class ContradictoryAnswer(KeysError):
    """An answer that leaves no candidate. `tries` are the numbers of the tries that
    cannot be true together with it; the state it was given to is unchanged, and
    `undo(state, number)` withdraws any one of them."""

    def __init__(self, words: str, tries: Sequence[int]) -> None:
        super().__init__(words)
        self.tries = tuple(tries)
