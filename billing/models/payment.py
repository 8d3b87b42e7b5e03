"""Payments as they came in, and which invoices they paid."""

from decimal import Decimal
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from billing.models.invoice import Invoice
from billing.querysets import PaymentQuerySet
from shop.customers.models import Customer


class PaymentMethod(models.TextChoices):
    CASH = "cash", "Cash"
    CARD = "card", "Card"
    TRANSFER = "transfer", "Transfer"
    CHEQUE = "cheque", "Cheque"


class Payment(models.Model):
    """Money received. Never changed or deleted; what it paid for is in its parts. `card_fee` is what the shop loses."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="payments")
    number = models.PositiveBigIntegerField(unique=True)
    method = models.CharField(max_length=8, choices=PaymentMethod)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    currency = models.CharField(max_length=3)
    card_fee = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal("0"))
    reference = models.CharField(max_length=100, blank=True)
    received_at = models.DateTimeField(default=timezone.now)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    receipt = models.FileField(upload_to="papers/%Y/%m", blank=True)
    receipt_sha256 = models.CharField(max_length=64, blank=True)
    receipt_made_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[Any] = PaymentQuerySet.as_manager()

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [models.CheckConstraint(condition=models.Q(amount__gt=0), name="payment_of_something")]

    def __str__(self) -> str:
        return f"Payment {self.number}: {self.amount} {self.currency}"


class PaymentPart(models.Model):
    """The part of a payment that went to one invoice."""

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="parts")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="payment_parts")
    amount = models.DecimalField(max_digits=12, decimal_places=2)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["payment", "invoice"], name="payment_part_once"),
            models.CheckConstraint(condition=models.Q(amount__gt=0), name="payment_part_of_something"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.payment} for {self.invoice}"
