"""The shop's rates and rounding, as the pure core of prices takes them."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from billing import pricing
from billing.models import TaxRate
from shop.middleware import shop_zone
from shop.models import Shop

NO_TAX = "No tax"


def add_up(lines: Iterable[pricing.PriceLine], *, on: date) -> pricing.Totals:
    """Prices `lines` with the rates that hold on the day `on` and the shop's rounding. A class with no rate bears none.

    Raises `pricing.PricingError` for lines that cannot be priced.
    """
    lines = tuple(lines)
    shop = Shop.current()
    rounding = pricing.TaxRounding(mode=shop.tax_rounding_mode, scope=shop.tax_rounding_scope)  # type: ignore[arg-type]
    return pricing.total(lines, _rates_for(lines, on), rounding=rounding, currency=shop.currency)


def shop_day(moment: datetime) -> date:
    """The day on which `moment` falls in the shop's zone; rates and years of papers go by it."""
    return timezone.localtime(moment, shop_zone()).date()


def _rates_for(lines: Iterable[pricing.PriceLine], on: date) -> list[pricing.TaxRate]:
    held = [pricing.TaxRate(rate.tax_class, rate.name, rate.percent, rate.holds_from) for rate in TaxRate.objects.all()]
    holding = list(pricing.rates_on(held, on))
    without = {line.tax_class for line in lines} - {rate.tax_class for rate in holding}
    return holding + [pricing.TaxRate(tax_class, NO_TAX, Decimal(0)) for tax_class in sorted(without)]
