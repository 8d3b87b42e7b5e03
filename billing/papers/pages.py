"""The pages that papers are printed from. An invoice's is built from what was frozen at its issue, nothing else."""

from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Sum
from django.template.loader import render_to_string
from django.utils import timezone

from billing.models import Invoice, Payment, PaymentPart
from billing.papers.parties import shop_facts
from billing.taxes import shop_day
from shop.middleware import shop_zone
from shop.models import Shop


def invoice_page(invoice: Invoice) -> str:
    """HTML of an issued invoice. Raises ValueError for a draft: it has no paper."""
    if invoice.issued_at is None:
        raise ValueError("A draft has no paper.")
    facts = _read(invoice.parties)
    told_when, paid = facts.pop("told"), Decimal(facts.pop("paid"))
    told = Decimal(told_when["total"]) if told_when else None
    context = {
        "invoice": invoice,
        "currency": invoice.currency,
        "lines": list(invoice.lines.all()),
        "taxes": list(invoice.taxes.all()),
        "told": told,
        "difference": None if told is None else invoice.total - told,
        "paid": paid,
        "due": invoice.total - paid,
        "told_when": told_when,
        "issued_on": shop_day(invoice.issued_at),
        **facts,
    }
    with timezone.override(ZoneInfo(facts["shop"]["time_zone"])):
        return render_to_string("billing/papers/invoice.html", context)


def receipt_page(payment: Payment) -> str:
    """HTML of the receipt of a payment, with what was left to pay after it."""
    parts = [(part, _left_after(part)) for part in payment.parts.select_related("invoice__job").order_by("id")]
    context = {
        "payment": payment,
        "currency": payment.currency,
        "parts": parts,
        "shop": shop_facts(Shop.current()),
        "customer": payment.customer,
        "taken_by": payment.taken_by.name if payment.taken_by else "",
    }
    with timezone.override(shop_zone()):
        return render_to_string("billing/papers/receipt.html", context)


def _left_after(part: PaymentPart) -> Decimal:
    so_far = PaymentPart.objects.filter(invoice=part.invoice_id, payment__number__lte=part.payment.number)
    paid: Decimal = so_far.aggregate(sum=Sum("amount"))["sum"]
    return part.invoice.total - paid


def _read(kept: Any, name: str = "") -> Any:
    """The kept JSON with its moments read back."""
    if isinstance(kept, dict):
        return {key: _read(value, key) for key, value in kept.items()}
    if isinstance(kept, list):
        return [_read(each) for each in kept]
    return datetime.fromisoformat(kept) if name.endswith("_at") and kept else kept
