"""Reads of vehicles."""

from typing import Any

from django.db import models


class VehicleQuerySet(models.QuerySet[Any]):
    def with_vin(self, vin: str) -> "VehicleQuerySet":
        return self.filter(vin=vin)
