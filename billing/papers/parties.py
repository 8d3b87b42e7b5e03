"""What an invoice says of shop, customer, vehicle, place and price told, copied at the moment of issue."""

from datetime import datetime
from typing import Any

from billing.models import Invoice, Payment, Quotation
from jobs.models import Job, Visit
from shop.customers.models import Address, Customer
from shop.models import Shop
from shop.staff.models import Person
from vehicles.models import Vehicle


def parties_of(invoice: Invoice) -> dict[str, Any]:
    """All that an issued invoice needs besides its own columns, lines and taxes, as plain JSON."""
    job, shop = invoice.job, Shop.current()
    return {
        "shop": shop_facts(shop),
        "customer": _customer(invoice.customer, job),
        "job": _job(job) if job else None,
        "vehicle": _vehicle(job.vehicle) if job and job.vehicle else None,
        "visits": _visits(job) if job else [],
        "told": _told(job) if job else None,
        "payments": [_payment(part.payment, part.amount) for part in _parts(invoice)],
        "paid": str(invoice.paid),
        "issued_by": _person(invoice.issued_by),
    }


def shop_facts(shop: Shop) -> dict[str, Any]:
    """The head of every paper, and how it is laid out."""
    named = ("name", "licence_number", "street", "town", "postcode", "country", "phone", "email", "tax_number")
    laid = ("time_zone", "paper_size", "invoice_words")
    return {name: getattr(shop, name) for name in (*named, *laid)}


def customer_address(customer: Customer) -> str:
    """Where bills go: the billing address, else the first address known."""
    lines = customer.billing_address.strip().splitlines()
    if lines:
        # The name stands above the address already.
        return "\n".join(lines[1:] if lines[0].strip() == customer.name else lines)
    first: Address | None = customer.addresses.first()
    if first is None:
        return ""
    return "\n".join(part for part in (first.street, f"{first.postcode} {first.town}".strip()) if part)


def _customer(customer: Customer, job: Job | None) -> dict[str, Any]:
    return {
        "name": customer.name,
        "contact_name": customer.contact_name,
        "kind": customer.kind,
        "address": customer_address(customer),
        "tax_number": customer.tax_number,
        "caller": job.caller_name if job else "",
    }


def _job(job: Job) -> dict[str, Any]:
    return {
        "number": job.number,
        "kind_of_work": job.get_kind_of_work_display(),
        "place": job.place,
        "called_at": _iso(job.called_at),
        "finished_at": _iso(job.finished_at),
    }


def _vehicle(vehicle: Vehicle) -> dict[str, Any]:
    named = ("year", "make", "model", "colour", "plate", "vin")
    return {name: getattr(vehicle, name) for name in named}


def _visits(job: Job) -> list[dict[str, Any]]:
    visits = Visit.objects.standing().filter(job=job).select_related("technician").order_by("during")
    return [
        {
            "technician": visit.technician.name,
            "licence_number": visit.technician.licence_number,
            "arrived_at": _iso(visit.arrived_at),
            "finished_at": _iso(visit.finished_at),
        }
        for visit in visits
    ]


def _told(job: Job) -> dict[str, Any] | None:
    told: Quotation | None = Quotation.objects.standing_of(job)
    if told is None:
        return None
    return {
        "net": str(told.net),
        "tax": str(told.tax),
        "total": str(told.total),
        "told_at": _iso(told.told_at),
        "told_by": _person(told.told_by),
        "accepted_at": _iso(told.accepted_at),
        "accepted_by": told.accepted_by,
    }


def _parts(invoice: Invoice) -> Any:
    return invoice.payment_parts.select_related("payment").order_by("payment__received_at", "payment_id")


def _payment(payment: Payment, amount: Any) -> dict[str, Any]:
    return {
        "number": payment.number,
        "method": payment.get_method_display(),
        "amount": str(amount),
        "reference": payment.reference,
        "received_at": _iso(payment.received_at),
    }


def _person(person: Person | None) -> str:
    return person.name if person else ""


def _iso(moment: datetime | None) -> str | None:
    return moment.isoformat() if moment else None
