"""The shop's rates and rounding, as the pure core of prices takes them."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from billing import pricing
from billing.models import TaxRate
from jobs.models import Job
from shop.middleware import shop_zone
from shop.models import Shop
from shop.money import format_amount

NO_TAX = "No tax"
# Widest that the columns of amounts and totals hold: twelve digits, two of them decimals.
MOST = Decimal("9999999999.99")


def add_up(lines: Iterable[pricing.PriceLine], *, on: date) -> pricing.Totals:
    """Prices `lines` with the rates that hold on the day `on` and the shop's rounding. A class with no rate bears none.

    Raises `pricing.PricingError` for lines that cannot be priced.
    """
    lines = tuple(lines)
    shop = Shop.current()
    rounding = pricing.TaxRounding(mode=shop.tax_rounding_mode, scope=shop.tax_rounding_scope)  # type: ignore[arg-type]
    return pricing.total(lines, _rates_for(lines, on), rounding=rounding, currency=shop.currency)


def check_kept(totals: pricing.Totals) -> None:
    """Raises `pricing.PricingError` for a line or a sum that is too large to be kept."""
    largest = max(abs(amount) for amount in (*(line.amount for line in totals.lines), totals.net, totals.gross))
    if largest > MOST:
        raise pricing.PricingError(f"{format_amount(largest, totals.currency)} is more than can be kept.")


def shop_day(moment: datetime) -> date:
    """The day on which `moment` falls in the shop's zone; rates and years of papers go by it."""
    return timezone.localtime(moment, shop_zone()).date()


def tax_day(job: Job | None, issued_at: datetime) -> date:
    """The day whose rates an invoice bears: that on which its work was finished, else that of issue."""
    return shop_day(job.finished_at if job and job.finished_at else issued_at)


def _rates_for(lines: Iterable[pricing.PriceLine], on: date) -> list[pricing.TaxRate]:
    # A class bears one rate at a time, so a new one replaces the old even when the tax was renamed.
    holding: dict[str, pricing.TaxRate] = {}
    for rate in TaxRate.objects.filter(holds_from__lte=on).order_by("holds_from"):
        holding[rate.tax_class] = pricing.TaxRate(rate.tax_class, rate.name, rate.percent)
    for tax_class in sorted({line.tax_class for line in lines} - holding.keys()):
        holding[tax_class] = pricing.TaxRate(tax_class, NO_TAX, Decimal(0))
    return list(holding.values())
