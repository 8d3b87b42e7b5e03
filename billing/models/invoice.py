"""Invoices: drafts that change, and issued papers that never do."""

from decimal import Decimal
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from billing.models.quotation import PricedLine
from billing.querysets import InvoiceQuerySet
from jobs.models import Job, PartUse
from shop.customers.models import Customer


class InvoiceState(models.TextChoices):
    DRAFT = "draft", "Draft"
    ISSUED = "issued", "Issued"


class Invoice(models.Model):
    """One invoice. Issuing gives it the next number of its year, copies the parties and freezes it.

    `parties` holds what the paper says of shop, customer, vehicle, place and payments at the moment of issue.
    `paid` is kept in step with the payment parts by the one action that writes both.
    """

    job = models.OneToOneField(Job, null=True, on_delete=models.PROTECT, related_name="invoice")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="invoices")
    state = models.CharField(max_length=6, choices=InvoiceState, default=InvoiceState.DRAFT)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    sequence = models.PositiveIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3)
    net = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal("0"))
    tax = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal("0"))
    total = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal("0"))
    paid = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal("0"))
    price_told = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    purchase_order = models.CharField(max_length=60, blank=True)
    note = models.CharField(max_length=300, blank=True)
    drafted_at = models.DateTimeField(default=timezone.now)
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    parties = models.JSONField(default=dict)
    paper = models.FileField(upload_to="papers/%Y/%m", blank=True)
    paper_sha256 = models.CharField(max_length=64, blank=True)
    paper_made_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[Any] = InvoiceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="invoice_number_once"),
            models.CheckConstraint(
                condition=models.Q(state="draft", sequence__isnull=True, issued_at__isnull=True)
                | models.Q(state="issued", sequence__isnull=False, year__isnull=False, issued_at__isnull=False),
                name="invoice_issued_has_number",
            ),
            models.CheckConstraint(
                condition=models.Q(paid__gte=0) & models.Q(paid__lte=models.F("total")),
                name="invoice_paid_within_total",
            ),
        ]
        indexes = [
            models.Index(fields=["customer", "state"], name="invoice_customer"),
            models.Index(fields=["issued_at"], name="invoice_issued_at"),
            models.Index(
                fields=["due_on"],
                name="invoice_open",
                condition=models.Q(state="issued") & models.Q(paid__lt=models.F("total")),
            ),
        ]

    def __str__(self) -> str:
        return f"Invoice {self.number}" if self.number else f"Draft for {self.job}"

    @property
    def number(self) -> str:
        """The number on the paper, "2026-0042"; empty while a draft."""
        return f"{self.year}-{self.sequence:04d}" if self.sequence else ""

    @property
    def balance(self) -> Decimal:
        return self.total - self.paid


class InvoiceLine(PricedLine):
    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    part = models.OneToOneField(PartUse, null=True, blank=True, on_delete=models.PROTECT, related_name="invoice_line")

    class Meta(PricedLine.Meta):
        pass


class InvoiceTax(models.Model):
    """The tax of one rate on an invoice."""

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="taxes")
    name = models.CharField(max_length=60)
    percent = models.DecimalField(max_digits=6, decimal_places=3)
    base = models.DecimalField(max_digits=12, decimal_places=2)
    amount = models.DecimalField(max_digits=12, decimal_places=2)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "invoice taxes"

    def __str__(self) -> str:
        return f"{self.name} {self.amount}"
