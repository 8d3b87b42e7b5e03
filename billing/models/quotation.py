"""The price told before anyone is sent."""

from decimal import Decimal
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from billing.querysets import QuotationQuerySet
from jobs.models import Job
from shop.stock.models import Item


class LineKind(models.TextChoices):
    CALL_OUT = "call_out", "Call-out"
    LABOUR = "labour", "Labour"
    ITEM = "item", "Blank or part"
    PROGRAMMING = "programming", "Programming"
    AFTER_HOURS = "after_hours", "After hours"
    DISCOUNT = "discount", "Discount"
    OTHER = "other", "Other"


class PricedLine(models.Model):
    """One line of a quotation or invoice; `amount` is quantity times price, rounded, without tax."""

    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=11, choices=LineKind)
    text = models.CharField(max_length=200)
    reason = models.CharField(max_length=200, blank=True)
    quantity = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("1"))
    unit_price = models.DecimalField(max_digits=10, decimal_places=2)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    tax_class = models.CharField(max_length=20)
    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True
        ordering = ["position"]

    def __str__(self) -> str:
        return f"{self.text} {self.amount}"


class Quotation(models.Model):
    """A price told for a job and, when `accepted_at` is set, accepted. Kept for ever; a new price is a new row."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="quotations")
    currency = models.CharField(max_length=3)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    told_at = models.DateTimeField(default=timezone.now)
    told_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.CharField(max_length=100, blank=True, help_text="Who said yes.")

    objects: ClassVar[Any] = QuotationQuerySet.as_manager()

    class Meta:
        ordering = ["told_at", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(total__gte=0), name="quotation_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.total} {self.currency} told for {self.job}"


class QuotationLine(PricedLine):
    quotation = models.ForeignKey(Quotation, on_delete=models.CASCADE, related_name="lines")

    class Meta(PricedLine.Meta):
        pass
