"""Prices: lines in, priced lines, tax and totals out. Plain Python; every figure is a ``Decimal``.

``total`` is what quotations and invoices call; ``call_out`` and ``after_hours`` make lines that say why they cost
what they cost.
"""

from billing.pricing.lines import KINDS, PriceLine, PricingError, line_amount
from billing.pricing.surcharges import CallOutBand, Surcharge, after_hours, call_out
from billing.pricing.tax import TaxBrackets, TaxRate, TaxRounding, rates_on, tax_of
from billing.pricing.totals import PricedLine, TaxLine, Totals, total

__all__ = [
    "KINDS",
    "CallOutBand",
    "PriceLine",
    "PricedLine",
    "PricingError",
    "Surcharge",
    "TaxBrackets",
    "TaxLine",
    "TaxRate",
    "TaxRounding",
    "Totals",
    "after_hours",
    "call_out",
    "line_amount",
    "rates_on",
    "tax_of",
    "total",
]
