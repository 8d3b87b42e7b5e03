"""Reads of holds and of requests to see records."""

from datetime import date
from typing import Any

from django.db import models
from django.db.models import F, Q


class HoldQuerySet(models.QuerySet[Any]):
    def standing(self, on: date) -> "HoldQuerySet":
        """Holds that are not lifted and whose last day has not passed."""
        return self.filter(lift__isnull=True).filter(Q(until__isnull=True) | Q(until__gte=on))

    def with_facts(self) -> "HoldQuerySet":
        return self.select_related("job", "customer", "added_by", "lift__lifted_by")


class InspectionQuerySet(models.QuerySet[Any]):
    def pending(self) -> "InspectionQuerySet":
        """Not yet answered, the most urgent first."""
        return self.filter(answered_at__isnull=True).order_by(F("answer_by").asc(nulls_last=True), "id")

    def answered(self) -> "InspectionQuerySet":
        return self.filter(answered_at__isnull=False).order_by("-answered_at")
