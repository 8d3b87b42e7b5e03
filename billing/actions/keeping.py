"""What stands on papers is made anonymous when the money years are over."""

from datetime import date
from typing import Any

from shop.append_only import erasing
from shop.customers.actions import ERASED
from shop.keeping.days import drop_files


def empty_invoices(invoices: Any, *, on: date) -> int:
    """Takes the parties off issued invoices and deletes their papers; lines, taxes, sums and numbers stay.

    The paper is made anew from what is left, so that the row of numbers has no hole.
    """
    found = list(invoices)
    drop_files(found, "paper")
    with erasing():
        for invoice in found:
            invoice.parties = _anonymous(invoice.parties, on)
            invoice.paper, invoice.paper_sha256, invoice.paper_made_at = "", "", None
            invoice.note, invoice.purchase_order = "", ""
            invoice.save(update_fields=["parties", "paper", "paper_sha256", "paper_made_at", "note", "purchase_order"])
    return len(found)


def empty_payments(payments: Any) -> int:
    """Takes references off payments of erased customers; the receipt is made anew without a name."""
    found = list(payments)
    drop_files(found, "receipt")
    with erasing():
        for payment in found:
            payment.reference = ""
            payment.receipt, payment.receipt_sha256, payment.receipt_made_at = "", "", None
            payment.save(update_fields=["reference", "receipt", "receipt_sha256", "receipt_made_at"])
    return len(found)


def forget_who_accepted(quotations: Any) -> int:
    """Takes the name of who said yes off prices told."""
    return int(quotations.exclude(accepted_by="").update(accepted_by=""))


def _anonymous(parties: dict[str, Any], on: date) -> dict[str, Any]:
    """Keeps what the figures need: the shop, the kind of work, days, who worked."""
    customer = {**dict.fromkeys(parties.get("customer", {}), ""), "name": ERASED}
    job, told = parties.get("job"), parties.get("told")
    return {
        **parties,
        "customer": customer,
        "job": {**job, "place": ""} if job else None,
        "vehicle": None,
        "told": {**told, "accepted_by": ERASED} if told and told.get("accepted_at") else told,
        "payments": [{**payment, "reference": ""} for payment in parties.get("payments", [])],
        "erased_on": on.isoformat(),
    }
