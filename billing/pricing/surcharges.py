"""Lines that a rule adds: the call-out by distance, and the surcharge for hours nobody likes to work."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from billing.pricing.lines import PriceLine, PricingError, line_amount
from shop.money import format_amount, quantize


@dataclass(frozen=True)
class CallOutBand:
    """Call-out ``price`` for places up to and including ``up_to_km`` by road (None: however far)."""

    up_to_km: Decimal | None
    price: Decimal

    def reaches(self, km: Decimal) -> bool:
        """True when ``km`` is not beyond this band."""
        return self.up_to_km is None or km <= self.up_to_km


def call_out(bands: Sequence[CallOutBand], km: Decimal, *, tax_class: str, text: str = "Call-out") -> PriceLine:
    """The call-out line for a place ``km`` away by road, with the band and the distance as its reason.

    ``bands`` go outward. Raises ``PricingError`` for bands that do not, a distance below nothing, or a place
    beyond the last band.
    """
    _check_bands(bands)
    if not km.is_finite() or km < 0:
        raise PricingError("The distance must not be below nothing.")
    for number, band in enumerate(bands, start=1):
        if band.reaches(km):
            inner = bands[number - 2].up_to_km if number > 1 else None
            reason = f"call-out band {number}: {_shown_km(km, band, inner)} km"
            return PriceLine("call_out", text, Decimal(1), band.price, tax_class, reason)
    raise PricingError(f"{km:f} km is beyond the last call-out band: agree a price by hand.")


def _check_bands(bands: Sequence[CallOutBand]) -> None:
    if not bands:
        raise PricingError("There are no call-out bands.")
    for inner, outer in pairwise(bands):
        if inner.up_to_km is None or (outer.up_to_km is not None and outer.up_to_km <= inner.up_to_km):
            raise PricingError("Call-out bands must go outward, one after the other.")
    if any(band.price < 0 for band in bands):
        raise PricingError("A call-out price must not be below nothing.")


def _shown_km(km: Decimal, band: CallOutBand, inner: Decimal | None) -> Decimal:
    """One decimal, unless that would show a distance outside the band it was charged in (10.04 beyond 10)."""
    short = km.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    fits = band.reaches(short) and (inner is None or short > inner)
    return short if fits else km


@dataclass(frozen=True)
class Surcharge:
    """What unusual hours cost more: ``percent`` of the lines of ``kinds``, or a ``fixed`` sum. One of the two."""

    text: str
    tax_class: str
    percent: Decimal | None = None
    fixed: Decimal | None = None
    kinds: frozenset[str] = frozenset({"call_out", "labour", "programming"})

    def __post_init__(self) -> None:
        if (self.percent is None) == (self.fixed is None):
            raise PricingError(f"{self.text}: a surcharge is either a percentage or a fixed sum.")
        if (self.percent or self.fixed or Decimal(0)) < 0:
            raise PricingError(f"{self.text}: a surcharge must not be below nothing.")


def after_hours(
    lines: Iterable[PriceLine],
    surcharge: Surcharge,
    *,
    at: datetime,
    applies: Callable[[datetime], bool],
    currency: str,
) -> PriceLine | None:
    """The surcharge line for work ``at`` a time for which ``applies``, or None when it does not.

    ``at`` is in the shop's zone, because its hours stand in the reason; which hours, weekends and holidays count
    is the caller's rule. Raises ``PricingError`` for a time without a zone.
    """
    if at.tzinfo is None:
        raise PricingError("The time of the work needs a time zone.")
    if not applies(at):
        return None
    when = f"{at:%a %H:%M}"
    if surcharge.fixed is not None:
        return _surcharge_line(surcharge, surcharge.fixed, f"after hours: {when}")
    percent = surcharge.percent or Decimal(0)
    bearing = sum((line_amount(line, currency) for line in lines if line.kind in surcharge.kinds), Decimal(0))
    reason = f"after hours: {when}, {percent.normalize():f} % of {format_amount(bearing, currency)}"
    return _surcharge_line(surcharge, quantize(bearing * percent / 100, currency), reason)


def _surcharge_line(surcharge: Surcharge, price: Decimal, reason: str) -> PriceLine:
    return PriceLine("after_hours", surcharge.text, Decimal(1), price, surcharge.tax_class, reason)
