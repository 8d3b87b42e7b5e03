"""Adding up: net, tax and gross of a quotation or an invoice."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_FLOOR, Decimal
from itertools import starmap

from billing.pricing.lines import PriceLine, PricingError, line_amount
from billing.pricing.tax import TaxRate, TaxRounding, rates_on, tax_of
from shop.money import quantize, quantum


@dataclass(frozen=True)
class PricedLine:
    """A line with its net amount and the part of the tax that falls on it; the parts add up to the whole tax."""

    line: PriceLine
    amount: Decimal
    tax: Decimal

    @property
    def gross(self) -> Decimal:
        """Amount with tax."""
        return self.amount + self.tax


@dataclass(frozen=True)
class TaxLine:
    """One tax on the paper: ``amount`` of it at ``rate`` percent on ``base``."""

    name: str
    rate: Decimal
    base: Decimal
    amount: Decimal


@dataclass(frozen=True)
class Totals:
    """What the paper says. ``net`` + ``tax`` = ``gross``; lines and tax lines add up to them, to the minor unit."""

    lines: tuple[PricedLine, ...]
    net: Decimal
    tax_lines: tuple[TaxLine, ...]
    tax: Decimal
    gross: Decimal
    currency: str


def total(
    lines: Iterable[PriceLine],
    rates: Iterable[TaxRate],
    *,
    rounding: TaxRounding,
    currency: str,
    on: date | None = None,
) -> Totals:
    """Price ``lines`` and add them up, with the taxes that hold on the day ``on``.

    Without a day the rates must leave no choice. Charges and allowances on the whole paper are lines like any
    other, in the tax class they belong to. Raises ``PricingError`` when a line's class has no tax rate (a class
    without tax needs a rate of 0), or has two of one name.
    """
    lines = tuple(lines)
    zero = quantize(Decimal(0), currency)
    amounts = [line_amount(line, currency) for line in lines]
    members = _members_by_tax(lines, _taxes_by_class(rates if on is None else rates_on(rates, on)))
    bases = {tax: [amounts[i] for i in at] for tax, at in members.items()}
    owed = _owed_by_tax(bases, rounding, currency)
    on_line = [zero for _ in lines]
    for tax, at in members.items():
        for i, part in zip(at, _on_lines(tax, bases[tax], owed[tax], rounding, currency), strict=True):
            on_line[i] += part
    net, tax_sum = sum(amounts, zero), sum(owed.values(), zero)
    return Totals(
        lines=tuple(starmap(PricedLine, zip(lines, amounts, on_line, strict=True))),
        net=net,
        tax_lines=tuple(
            TaxLine(name=tax.name, rate=tax.percent, base=sum(base, zero), amount=owed[tax])
            for tax, base in bases.items()
        ),
        tax=tax_sum,
        gross=net + tax_sum,
        currency=currency,
    )


def _taxes_by_class(rates: Iterable[TaxRate]) -> dict[str, dict[str, TaxRate]]:
    by_class: dict[str, dict[str, TaxRate]] = defaultdict(dict)
    for rate in rates:
        if rate.name in by_class[rate.tax_class]:
            raise PricingError(f"{rate.name} on “{rate.tax_class}” is set twice: say for which day.")
        # Classes with the same tax share one row of the paper, as EN 16931 groups by category and rate.
        by_class[rate.tax_class][rate.name] = replace(rate, tax_class="", holds_from=None)
    return by_class


def _members_by_tax(lines: Sequence[PriceLine], taxes: dict[str, dict[str, TaxRate]]) -> dict[TaxRate, list[int]]:
    members: dict[TaxRate, list[int]] = defaultdict(list)
    for i, line in enumerate(lines):
        if line.tax_class not in taxes:
            raise PricingError(f"No tax rate is set for “{line.tax_class}” ({line.text}).")
        for tax in taxes[line.tax_class].values():
            members[tax].append(i)
    return members


def _owed_by_tax(bases: dict[TaxRate, list[Decimal]], rounding: TaxRounding, currency: str) -> dict[TaxRate, Decimal]:
    if rounding.scope == "line":
        by_line = {tax: [rounding.apply(tax_of(tax, each), currency) for each in base] for tax, base in bases.items()}
        return {tax: sum(parts, Decimal(0)) for tax, parts in by_line.items()}
    exact = {tax: tax_of(tax, sum(base, Decimal(0))) for tax, base in bases.items()}
    if rounding.scope == "rate":
        return {tax: rounding.apply(whole, currency) for tax, whole in exact.items()}
    whole = rounding.apply(sum(exact.values(), Decimal(0)), currency)
    return dict(zip(exact, _shared(list(exact.values()), whole, currency), strict=True))


def _on_lines(tax: TaxRate, base: list[Decimal], owed: Decimal, rounding: TaxRounding, currency: str) -> list[Decimal]:
    if rounding.scope == "line":
        return [rounding.apply(tax_of(tax, amount), currency) for amount in base]
    if tax.brackets is None:
        return _shared([tax_of(tax, amount) for amount in base], owed, currency)
    # A table knows only the tax on the sum: the lines bear it in proportion.
    whole = sum(base, Decimal(0))
    return _shared([owed * amount / whole if whole else Decimal(0) for amount in base], owed, currency)


def _shared(exact: Sequence[Decimal], whole: Decimal, currency: str) -> list[Decimal]:
    """``exact`` in whole minor units that add up to ``whole``: the largest remainders get what is left over."""
    unit = quantum(currency)
    floors = [quantize(part, currency, ROUND_FLOOR) for part in exact]
    by_loss = sorted(range(len(exact)), key=lambda i: floors[i] - exact[i])
    for i in by_loss[: int((whole - sum(floors)) / unit)]:
        floors[i] += unit
    return floors
