"""Every write on customers, how to reach them and where they are."""

from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction

from shop.customers.errors import KnownAlready
from shop.customers.models import Address, Customer, CustomerEmail, CustomerKind, CustomerPhone
from shop.staff.models import Person

FACTS = frozenset(
    {"kind", "name", "contact_name", "warning", "notes", "terms_days", "billing_address", "tax_number", "created_at"}
)
PLACE = frozenset({"label", "street", "town", "postcode", "access_notes", "latitude", "longitude"})

# The name of a customer who was made anonymous.
ERASED = "Erased customer"

Labelled = Iterable[tuple[str, str]]


@transaction.atomic
def add_customer(
    *,
    actor: Person | None,
    name: str,
    kind: CustomerKind | str = CustomerKind.PERSON,
    phones: Labelled = (),
    emails: Labelled = (),
    **facts: Any,
) -> Customer:
    """Adds a customer with numbers (E.164, label) and e-mails (address, label). Raises KnownAlready for one twice."""
    _check(facts, FACTS)
    customer: Customer = Customer.objects.create(name=name, kind=kind, **facts)
    for number, label in phones:
        add_phone(customer, actor=actor, number=number, label=label)
    for address, label in emails:
        add_email(customer, actor=actor, address=address, label=label)
    return customer


@transaction.atomic
def change_customer(
    customer: Customer,
    *,
    actor: Person | None,
    phones: Labelled | None = None,
    emails: Labelled | None = None,
    **facts: Any,
) -> Customer:
    """Changes facts; `phones` and `emails`, where given, become the whole list. Raises KnownAlready for one twice."""
    _check(facts, FACTS)
    fresh: Customer = Customer.objects.select_for_update().get(pk=customer.pk)
    for name, value in facts.items():
        setattr(fresh, name, value)
    if facts:
        fresh.save(update_fields=list(facts))
    if phones is not None:
        _replace_phones(fresh, list(phones), actor)
    if emails is not None:
        _replace_emails(fresh, list(emails), actor)
    return fresh


@transaction.atomic
def add_phone(customer: Customer, *, actor: Person | None, number: str, label: str = "") -> CustomerPhone:
    """Adds a number (E.164). Raises KnownAlready when this customer has it."""
    try:
        with transaction.atomic():
            return CustomerPhone.objects.create(customer=customer, number=number, label=label)
    except IntegrityError as error:
        if "customer_phone_once" not in str(error):
            raise
        raise KnownAlready("This number stands there already.", field="phones") from None


def remove_phone(phone: CustomerPhone, *, actor: Person | None) -> CustomerPhone:
    CustomerPhone.objects.filter(pk=phone.pk).delete()
    return phone


@transaction.atomic
def add_email(customer: Customer, *, actor: Person | None, address: str, label: str = "") -> CustomerEmail:
    """Adds an e-mail. Raises KnownAlready when this customer has it."""
    try:
        with transaction.atomic():
            return CustomerEmail.objects.create(customer=customer, address=address, label=label)
    except IntegrityError as error:
        if "customer_email_once" not in str(error):
            raise
        raise KnownAlready("This e-mail stands there already.", field="emails") from None


def remove_email(email: CustomerEmail, *, actor: Person | None) -> CustomerEmail:
    CustomerEmail.objects.filter(pk=email.pk).delete()
    return email


@transaction.atomic
def add_address(customer: Customer, *, actor: Person | None, street: str, **place: Any) -> Address:
    """Adds a place of a customer: town, postcode, label, access_notes, latitude and longitude where known."""
    _check(place, PLACE)
    return Address.objects.create(customer=customer, street=street, **place)


@transaction.atomic
def change_address(address: Address, *, actor: Person | None, **place: Any) -> Address:
    """Changes a place. Jobs keep the copy they were made with."""
    _check(place, PLACE)
    fresh = Address.objects.select_for_update().get(pk=address.pk)
    for name, value in place.items():
        setattr(fresh, name, value)
    fresh.save(update_fields=list(place))
    return fresh


def remove_address(address: Address, *, actor: Person | None) -> Address:
    """Takes a place off a customer. Jobs keep the copy they were made with."""
    Address.objects.filter(pk=address.pk).delete()
    return address


def _replace_phones(customer: Customer, phones: list[tuple[str, str]], actor: Person | None) -> None:
    kept = dict(phones)
    customer.phones.exclude(number__in=kept).delete()
    known = {phone.number: phone for phone in customer.phones.all()}
    for number, label in phones:
        phone = known.pop(number, None)
        if phone is None:
            add_phone(customer, actor=actor, number=number, label=label)
        elif phone.label != label:
            phone.label = label
            phone.save(update_fields=["label"])


def _replace_emails(customer: Customer, emails: list[tuple[str, str]], actor: Person | None) -> None:
    kept = dict(emails)
    customer.emails.exclude(address__in=kept).delete()
    known = {email.address: email for email in customer.emails.all()}
    for address, label in emails:
        email = known.pop(address, None)
        if email is None:
            add_email(customer, actor=actor, address=address, label=label)
        elif email.label != label:
            email.label = label
            email.save(update_fields=["label"])


def _check(facts: dict[str, Any], allowed: frozenset[str]) -> None:
    unknown = facts.keys() - allowed
    if unknown:
        raise TypeError(f"There is no {', '.join(sorted(unknown))} to write.")


@transaction.atomic
def erase_customer(customer: Customer) -> bool:
    """Makes a customer anonymous; the row stays, since jobs and invoices hang on it. False when there was nothing left.

    Whether a duty stands against it is asked by whoever calls.
    """
    fresh: Customer = Customer.objects.select_for_update().get(pk=customer.pk)
    gone = sum(found.delete()[0] for found in (fresh.phones.all(), fresh.emails.all(), fresh.addresses.all()))
    blank = {"contact_name": "", "warning": "", "notes": "", "billing_address": "", "tax_number": ""}
    anonymous = {"name": ERASED, **blank}
    if not gone and all(getattr(fresh, name) == value for name, value in anonymous.items()):
        return False
    for name, value in anonymous.items():
        setattr(fresh, name, value)
    fresh.save(update_fields=list(anonymous))
    return True
