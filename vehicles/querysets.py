"""Reads of vehicles."""

from typing import Any

from django.db import models

from vehicles.plates import search_form

SHORTEST = 2


class VehicleQuerySet(models.QuerySet[Any]):
    def with_vin(self, vin: str) -> "VehicleQuerySet":
        return self.filter(vin=vin)

    def matching(self, text: str) -> "VehicleQuerySet":
        """Those whose plate or VIN holds `text`, however it is spaced; none for fewer than two characters."""
        code = search_form(text)
        if len(code) < SHORTEST:
            return self.none()
        everyone = self.model.objects
        found = everyone.filter(plate_search__contains=code).values("id")
        return self.filter(pk__in=found.union(everyone.filter(vin__contains=code).values("id")))

    def of_customer(self, customer_id: int) -> "VehicleQuerySet":
        """A customer's vehicles, the newest entry first."""
        return self.filter(customer_id=customer_id).order_by("-id")
