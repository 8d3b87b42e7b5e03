"""What a job earned: the price charged, less all that it cost."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from decimal import Decimal

from shop.errors import Refused
from shop.money import quantize


class MarginError(Refused, ValueError):
    """Figures from which no margin can be worked out; the words are fit to show."""


@dataclass(frozen=True)
class JobMargin:
    """Price and costs of one job, or of several added up, in whole minor units of one currency.

    ``price`` is net of tax. ``parts`` are blanks and parts at the cost paid, ``spoiled`` the blanks that became no
    key. Since every figure is whole in the minor unit, any sum over jobs agrees with any other cut through them.
    """

    price: Decimal = Decimal(0)
    parts: Decimal = Decimal(0)
    spoiled: Decimal = Decimal(0)
    labour: Decimal = Decimal(0)
    travel: Decimal = Decimal(0)
    card_fees: Decimal = Decimal(0)

    @property
    def cost(self) -> Decimal:
        """All costs together."""
        return self.parts + self.spoiled + self.labour + self.travel + self.card_fees

    @property
    def left(self) -> Decimal:
        """Price less costs; below nothing when the job lost money."""
        return self.price - self.cost

    @property
    def percent(self) -> Decimal | None:
        """What is left in percent of the price, not rounded; None without a price."""
        return self.left * 100 / self.price if self.price else None

    @property
    def markup_percent(self) -> Decimal | None:
        """What is left in percent of the cost, not rounded; None without a cost."""
        return self.left * 100 / self.cost if self.cost else None

    def __add__(self, other: "JobMargin") -> "JobMargin":
        return JobMargin(*(getattr(self, each.name) + getattr(other, each.name) for each in fields(self)))


def job_margin(
    *,
    price: Decimal,
    currency: str,
    parts: Iterable[Decimal] = (),
    spoiled: Iterable[Decimal] = (),
    labour: Iterable[tuple[Decimal | int, Decimal]] = (),
    travel: tuple[Decimal, Decimal] = (Decimal(0), Decimal(0)),
    card_fees: Iterable[Decimal] = (),
) -> JobMargin:
    """The margin of one job.

    ``price`` is what was charged net of tax, credit notes taken off. ``parts`` and ``spoiled`` are costs of what was
    used, ``labour`` pairs of minutes and cost per hour, ``travel`` kilometres and cost per kilometre. Each kind of
    cost is rounded once, after it is added up. Raises ``MarginError`` for a cost below nothing.
    """
    return JobMargin(
        price=quantize(price, currency),
        parts=_cost("parts", parts, currency),
        spoiled=_cost("spoiled blanks", spoiled, currency),
        labour=_cost("labour", (minutes * hourly / 60 for minutes, hourly in labour), currency),
        travel=_cost("travel", (travel[0] * travel[1],), currency),
        card_fees=_cost("card fees", card_fees, currency),
    )


def sum_margins(margins: Iterable[JobMargin]) -> JobMargin:
    """The margins of a month, or of any other cut, as one."""
    return sum(margins, JobMargin())


def price_for_margin(cost: Decimal, percent: Decimal, currency: str) -> Decimal:
    """The price of which ``percent`` is left after ``cost``. Raises ``MarginError`` for 100 % or more."""
    if percent >= 100:
        raise MarginError("A margin of 100 % or more would need a cost of nothing.")
    return quantize(cost * 100 / (100 - percent), currency)


def price_for_markup(cost: Decimal, percent: Decimal, currency: str) -> Decimal:
    """``cost`` with ``percent`` of it on top."""
    return quantize(cost * (100 + percent) / 100, currency)


def _cost(name: str, figures: Iterable[Decimal], currency: str) -> Decimal:
    figures = list(figures)
    if any(figure < 0 for figure in figures):
        raise MarginError(f"The cost of {name} must not be below nothing.")
    return quantize(sum(figures, Decimal(0)), currency)
