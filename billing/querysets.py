"""Reads of prices told and of invoices."""

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


class QuotationQuerySet(models.QuerySet[Any]):
    def with_lines(self) -> "QuotationQuerySet":
        return self.select_related("told_by").prefetch_related("lines")

    def newest_first(self) -> "QuotationQuerySet":
        return self.order_by("-told_at", "-id")

    def newest_of(self, job: Any) -> Any:
        """The price told last for a job, or None."""
        return self.filter(job=job).newest_first().first()

    def standing_of(self, job: Any) -> Any:
        """The price that holds for a job: the one accepted last, else the one told last, or None."""
        return self.filter(job=job).order_by(F("accepted_at").desc(nulls_last=True), "-told_at", "-id").first()
