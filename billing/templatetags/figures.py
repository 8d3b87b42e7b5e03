"""Figures as papers and margins show them."""

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
def minus(amount: Decimal) -> str:
    """An amount with a true minus sign, so that a loss is not read past."""
    return str(amount).replace("-", "−")


@register.filter
def margin(job: object) -> JobMargin:
    """The margin of a job loaded with it."""
    return margin_of(job)
