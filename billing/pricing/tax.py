"""Taxes as data: rates with the day from which they hold, ways of rounding, tables for small amounts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal
from itertools import pairwise
from typing import Literal

from billing.pricing.lines import PricingError
from shop.money import quantize

Mode = Literal["half_up", "half_even", "up"]
Scope = Literal["line", "rate", "invoice"]

_ROUNDINGS = {"half_up": ROUND_HALF_UP, "half_even": ROUND_HALF_EVEN, "up": ROUND_UP}
_SCOPES = ("line", "rate", "invoice")


@dataclass(frozen=True)
class TaxRounding:
    """How tax is rounded to the minor unit, and after adding up what: each line, each rate or the whole paper.

    ``half_up`` and ``up`` go away from zero, so that a credit note mirrors its invoice. ``invoice`` rounds the sum
    of all taxes once, which is also the rule for state and local tax taken together (SSUTA s. 324).
    """

    mode: Mode = "half_up"
    scope: Scope = "rate"

    def __post_init__(self) -> None:
        if self.mode not in _ROUNDINGS or self.scope not in _SCOPES:
            raise PricingError(f"“{self.mode}, {self.scope}” is no way of rounding tax.")

    def apply(self, amount: Decimal, currency: str) -> Decimal:
        """``amount`` rounded to the minor unit of ``currency`` in this mode."""
        return quantize(amount, currency, _ROUNDINGS[self.mode])


@dataclass(frozen=True)
class TaxBrackets:
    """A table of tax on small amounts, as some laws print it, in place of multiplying by the rate.

    Below ``unit`` the tax is that of the last step of ``below`` that the amount reaches; from ``unit`` on it is
    ``per_unit`` for every whole unit, plus the last step of ``above`` that the remainder reaches. A step is
    (from this amount on, tax); amounts short of the first step bear none.
    """

    below: tuple[tuple[Decimal, Decimal], ...]
    above: tuple[tuple[Decimal, Decimal], ...]
    per_unit: Decimal
    unit: Decimal = Decimal(1)

    def __post_init__(self) -> None:
        for steps in (self.below, self.above):
            starts = [start for start, _ in steps]
            if any(later <= sooner for sooner, later in pairwise(starts)):
                raise PricingError("The steps of a tax table must rise.")

    def tax(self, base: Decimal) -> Decimal:
        """Tax on ``base``, with its sign."""
        size = abs(base)
        if size < self.unit:
            owed = _last_step(self.below, size)
        else:
            whole = size // self.unit
            owed = whole * self.per_unit + _last_step(self.above, size - whole * self.unit)
        return -owed if base < 0 else owed


@dataclass(frozen=True)
class TaxRate:
    """A tax of ``percent`` (6.25 means 6.25 %) on lines of ``tax_class`` from ``holds_from`` on (None: always).

    A class may bear several taxes of different names, each on the net amount. A class without tax has a rate of 0
    that says so. ``brackets`` replace the multiplication where the law prints a table.
    """

    tax_class: str
    name: str
    percent: Decimal
    holds_from: date | None = None
    brackets: TaxBrackets | None = None

    def __post_init__(self) -> None:
        if not self.percent.is_finite() or self.percent < 0:
            raise PricingError(f"{self.name}: a tax rate must not be below nothing.")


def tax_of(rate: TaxRate, base: Decimal) -> Decimal:
    """Tax on ``base`` at ``rate``, not yet rounded (a table gives whole minor units by itself)."""
    return rate.brackets.tax(base) if rate.brackets else base * rate.percent / 100


def rates_on(rates: Iterable[TaxRate], day: date) -> tuple[TaxRate, ...]:
    """For each class and name of tax the rate that holds on ``day``: the one that began last, if any has."""
    holding: dict[tuple[str, str], TaxRate] = {}
    for rate in sorted(rates, key=_begins):
        if _begins(rate) <= day:
            holding[rate.tax_class, rate.name] = rate
    return tuple(holding.values())


def _begins(rate: TaxRate) -> date:
    return rate.holds_from or date.min


def _last_step(steps: Sequence[tuple[Decimal, Decimal]], amount: Decimal) -> Decimal:
    return next((tax for start, tax in reversed(steps) if start <= amount), Decimal(0))
