"""Reads of invoices."""

from datetime import date
from typing import Any

from django.db import models
from django.db.models import F


class InvoiceQuerySet(models.QuerySet[Any]):
    def issued(self) -> "InvoiceQuerySet":
        return self.filter(state="issued")

    def unpaid(self) -> "InvoiceQuerySet":
        return self.issued().filter(paid__lt=F("total"))

    def overdue(self, today: date) -> "InvoiceQuerySet":
        return self.unpaid().filter(due_on__lt=today)

    def without_paper(self) -> "InvoiceQuerySet":
        return self.issued().filter(paper="")
