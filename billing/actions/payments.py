"""Money that comes in."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from billing.actions.waiting import ask_for_receipt
from billing.errors import WrongAmount
from billing.models import Invoice, Payment, PaymentMethod, PaymentPart
from shop.actions import next_number
from shop.errors import Refused
from shop.models import Shop
from shop.money import format_amount, is_whole, minor_units, quantize
from shop.staff.models import Person


@transaction.atomic
def record_payment(
    invoice: Invoice,
    *,
    actor: Person | None,
    method: PaymentMethod | str,
    amount: Decimal,
    reference: str = "",
    at: datetime | None = None,
) -> Payment:
    """Takes in a payment, whole or in part, for an invoice or its draft. The invoice's row settles a race.

    Raises WrongAmount for nothing, for more than the balance, or for an amount finer than the currency.
    """
    if method not in PaymentMethod.values:
        raise Refused("Say how it was paid.", field="method")
    locked: Invoice = Invoice.objects.select_for_update(of=("self",)).get(pk=invoice.pk)
    _check_amount(locked, amount)
    payment = Payment.objects.create(
        customer_id=locked.customer_id,
        number=next_number("payment"),
        method=str(PaymentMethod(method)),
        amount=amount,
        currency=locked.currency,
        card_fee=_card_fee(amount, locked.currency) if method == PaymentMethod.CARD else Decimal(0),
        reference=reference.strip(),
        received_at=at or timezone.now(),
        taken_by=actor,
    )
    PaymentPart.objects.create(payment=payment, invoice=locked, amount=amount)
    locked.paid += amount
    locked.save(update_fields=["paid"])
    ask_for_receipt(payment)
    return payment


def _check_amount(invoice: Invoice, amount: Decimal) -> None:
    currency = invoice.currency
    if not amount.is_finite() or amount <= 0:
        raise WrongAmount("A payment is of more than nothing.", field="amount")
    if not is_whole(amount, currency):
        raise WrongAmount(f"{currency} has {minor_units(currency)} decimals; {amount} is too fine.", field="amount")
    if invoice.balance <= 0:
        raise WrongAmount("Nothing is left to pay.", field="amount")
    if amount > invoice.balance:
        balance, offered = (format_amount(each, currency) for each in (invoice.balance, amount))
        raise WrongAmount(f"The balance is {balance}; {offered} is more than that.", field="amount")


def _card_fee(amount: Decimal, currency: str) -> Decimal:
    return quantize(amount * Shop.current().card_fee_percent / 100, currency)
