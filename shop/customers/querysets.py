"""Reads of customers."""

from typing import Any

from django.db import models


class CustomerQuerySet(models.QuerySet[Any]):
    def with_contacts(self) -> "CustomerQuerySet":
        return self.prefetch_related("phones", "emails", "addresses")

    def reached_by(self, number: str) -> "CustomerQuerySet":
        """Customers with exactly this telephone number (E.164)."""
        return self.filter(phones__number=number).distinct()
