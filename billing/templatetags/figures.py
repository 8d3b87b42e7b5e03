"""Figures as papers and margins show them."""

from datetime import date
from decimal import Decimal

from django import template

from billing.earnings import margin_of
from billing.margin import JobMargin

register = template.Library()


@register.filter
def plain(figure: Decimal | None) -> str:
    """A quantity or a rate without the noughts behind: `2`, `1.5`, `6.25`; empty for none."""
    return "" if figure is None else f"{figure.normalize():f}"


@register.filter
def percent(figure: Decimal | None) -> str:
    """`31.4 %`, or a dash where there is nothing to take it of."""
    return "—" if figure is None else f"{figure:.1f}\u00a0%".replace("-", "−")


@register.filter
def figure(amount: Decimal) -> str:
    """An amount without its currency: `1,234.50`, with a true minus sign, so that a loss is not read past."""
    return f"{amount:,}".replace("-", "−")


@register.filter
def size(amount: Decimal) -> Decimal:
    """An amount without its sign, where words say which way it goes."""
    return abs(amount)


@register.filter
def margin(job: object) -> JobMargin:
    """The margin of a job loaded with it."""
    return margin_of(job)


@register.filter
def days_over(due_on: date, today: date) -> str:
    """`1 day overdue`, `27 days overdue`."""
    days = (today - due_on).days
    return f"{days} day{'' if days == 1 else 's'} overdue"
