"""Papers as files: made once, kept with their hash."""

import hashlib
import os
import tempfile
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models.fields.files import FieldFile
from django.utils import timezone

from billing.models import Invoice, InvoiceState, Payment
from billing.papers.pages import invoice_page, receipt_page
from billing.papers.render import pdf_of


def make_paper(invoice_id: int) -> Invoice | None:
    """Makes the PDF of an issued invoice; one that is made already, or a draft, is left alone.

    Built outside the lock, because what is printed no longer changes; kept under it, so that two makers keep one file.
    """
    invoice: Invoice | None = Invoice.objects.filter(pk=invoice_id, state=InvoiceState.ISSUED).first()
    if invoice is None or _is_there(invoice.paper):
        return invoice
    name = f"papers/{invoice.year}/invoice-{invoice.number}.pdf"
    made = pdf_of(invoice_page(invoice), identifier=f"invoice {invoice.number}")
    with transaction.atomic():
        locked: Invoice = Invoice.objects.select_for_update(of=("self",)).get(pk=invoice_id)
        if not _is_there(locked.paper):
            locked.paper.name, locked.paper_sha256, locked.paper_made_at = name, _write(name, made), timezone.now()
            locked.save(update_fields=["paper", "paper_sha256", "paper_made_at"])
    return locked


def make_receipt(payment_id: int) -> Payment | None:
    """Makes the PDF receipt of a payment; one that is made already is left alone."""
    payment = Payment.objects.select_related("customer", "taken_by").filter(pk=payment_id).first()
    if payment is None or _is_there(payment.receipt):
        return payment
    name = f"papers/{payment.received_at:%Y}/receipt-{payment.number}.pdf"
    made = pdf_of(receipt_page(payment), identifier=f"receipt {payment.number}")
    with transaction.atomic():
        locked = Payment.objects.select_for_update(of=("self",)).get(pk=payment_id)
        if not _is_there(locked.receipt):
            locked.receipt.name, locked.receipt_sha256, locked.receipt_made_at = (
                name,
                _write(name, made),
                timezone.now(),
            )
            locked.save(update_fields=["receipt", "receipt_sha256", "receipt_made_at"])
    return locked


def _is_there(file: FieldFile) -> bool:
    return bool(file) and Path(file.path).exists()


def _write(name: str, made: bytes) -> str:
    """Writes a file whole or not at all, and returns its SHA-256."""
    target = Path(settings.MEDIA_ROOT) / name
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as half:
        half.write(made)
        half.flush()
        os.fsync(half.fileno())
    Path(half.name).replace(target)
    return hashlib.sha256(made).hexdigest()
