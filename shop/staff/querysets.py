"""Reads of people and shifts."""

from datetime import date
from typing import Any

from django.db import models
from django.db.models.functions import Lower


class PersonQuerySet(models.QuerySet[Any]):
    def active(self) -> "PersonQuerySet":
        return self.filter(is_active=True)

    def in_order(self) -> "PersonQuerySet":
        """Those who can sign in first, each part by name."""
        return self.order_by("-is_active", Lower("name"), "pk")

    def technicians(self) -> "PersonQuerySet":
        return self.active().filter(is_technician=True)

    def on_shift(self, day: date) -> "PersonQuerySet":
        """Technicians whose week says that they work on this day, less those with the day off."""
        return (
            self.technicians()
            .filter(weekly_shifts__weekday=day.weekday())
            .exclude(days_off__on=day)
            .annotate(shift_starts=models.F("weekly_shifts__starts"), shift_ends=models.F("weekly_shifts__ends"))
            .order_by("name")
        )
