"""What is told of a customer, and how one is made anonymous."""

from datetime import date
from typing import Any

from shop.customers.actions import erase_customer
from shop.customers.models import Customer
from shop.keeping.rooms import Room, Spared


def _data(customer: Customer) -> dict[str, Any]:
    facts = ("kind", "name", "contact_name", "warning", "notes", "terms_days", "billing_address", "tax_number")
    places = ("label", "street", "town", "postcode", "access_notes", "latitude", "longitude")
    return {
        "customer": {name: getattr(customer, name) for name in (*facts, "created_at")},
        "phones": list(customer.phones.values("number", "label")),
        "emails": list(customer.emails.values("address", "label")),
        "addresses": list(customer.addresses.values(*places)),
    }


def _erase(customer: Customer, on: date, spared: Spared) -> list[str]:
    return ["Name, contacts, addresses and notes"] if erase_customer(customer) else []


ROOM = Room(data=_data, erase=_erase)
