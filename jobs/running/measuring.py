"""A measured value: read as it is typed with gloves on, and held against the limits of its step and its procedure.

static/jobs/js/measure.js does the same without signal; tests hold the two against each other.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from vehicles.procedure_content import LEAST_VOLTS, MOST_VOLTS, Doubt, limit_words, plain

_FIGURE = re.compile(r"-?\d{1,6}(?:[.,]\d{1,3})?")
# So many times too much is a figure typed without its point.
_POWERS = (10, 100, 1000)


@dataclass(frozen=True)
class Limits:
    """What a value must lie in. `is_supply`: the vehicle's supply voltage, whose limits come from the procedure too;
    `hard_low` and `hard_high` are the procedure's own, outside which work that never stops must not begin."""

    unit: str
    low: Decimal | None = None
    high: Decimal | None = None
    is_supply: bool = False
    hard_low: Decimal | None = None
    hard_high: Decimal | None = None

    @property
    def words(self) -> str:
        return limit_words(self.low, self.high, self.unit)

    def fault(self, value: Decimal) -> str:
        """`11.9 V, below 12.4 V`, or nothing when the value lies within."""
        if self.low is not None and value < self.low:
            return f"{plain(value)} {self.unit}, below {plain(self.low)} {self.unit}"
        if self.high is not None and value > self.high:
            return f"{plain(value)} {self.unit}, above {plain(self.high)} {self.unit}"
        return ""

    def is_hard(self, value: Decimal) -> bool:
        """Whether the procedure itself forbids to begin what never stops."""
        below = self.hard_low is not None and value < self.hard_low
        return below or (self.hard_high is not None and value > self.hard_high)


def limits_of(
    unit: str,
    low: Decimal | None,
    high: Decimal | None,
    *,
    low_volts: Decimal | None = None,
    high_volts: Decimal | None = None,
) -> Limits:
    """The limits of a measure with its own `low` and `high`, in a procedure whose supply is bounded by `..._volts`.

    A measure in volts whose own limits could be a vehicle's supply is one; the narrower limits hold.
    """
    is_supply = unit == "V" and all(each is None or each >= LEAST_VOLTS for each in (low, high))
    if not is_supply:
        return Limits(unit, low, high)
    lows = [each for each in (low, low_volts) if each is not None]
    highs = [each for each in (high, high_volts) if each is not None]
    return Limits(
        unit,
        low=max(lows, default=None),
        high=min(highs, default=None),
        is_supply=True,
        hard_low=low_volts,
        hard_high=high_volts,
    )


def read_measured(text: str, limits: Limits) -> Decimal:
    """The value typed with a point or a comma, its unit left out or not.

    Raises Doubt for nothing, for what is no figure, for a supply that no vehicle has (1260 asks whether 12.60 is
    meant), and for a comma that may part thousands.
    """
    typed = text.strip()
    if limits.unit and typed.lower().endswith(limits.unit.lower()):
        typed = typed[: -len(limits.unit)].strip()
    if not typed:
        raise Doubt("Type what you measured.")
    if not typed.isascii() or not _FIGURE.fullmatch(typed):
        raise Doubt(f"{text.strip()[:20]} is no figure. Type it like 12.6.")
    value = Decimal(typed.replace(",", "."))
    if limits.is_supply:
        return _supply(value)
    if re.search(r",\d{3}$", typed):
        raise Doubt(f"Is {plain(value)} or {typed.replace(',', '')} {limits.unit} meant? Type it with a point.")
    return value


def _supply(value: Decimal) -> Decimal:
    if value < 0:
        raise Doubt("The leads are crossed. Measure again.")
    if value <= MOST_VOLTS:
        return value
    for power in _POWERS:
        meant = value / power
        if LEAST_VOLTS <= meant <= MOST_VOLTS:
            raise Doubt(f"{plain(value)} V is no vehicle's supply. Is {meant:.2f} V meant? Type it with its point.")
    raise Doubt(f"{plain(value)} V is no vehicle's supply. Measure again.")
