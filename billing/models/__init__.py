"""Price book, quotations, invoices and payments."""

from billing.models.invoice import Invoice, InvoiceLine, InvoiceState, InvoiceTax
from billing.models.payment import Payment, PaymentMethod, PaymentPart
from billing.models.prices import CallOutBand, LabourPrice, PriceBook, TaxRate
from billing.models.quotation import LineKind, Quotation, QuotationLine

__all__ = [
    "CallOutBand",
    "Invoice",
    "InvoiceLine",
    "InvoiceState",
    "InvoiceTax",
    "LabourPrice",
    "LineKind",
    "Payment",
    "PaymentMethod",
    "PaymentPart",
    "PriceBook",
    "Quotation",
    "QuotationLine",
    "TaxRate",
]
