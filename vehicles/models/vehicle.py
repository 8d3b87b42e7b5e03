"""Vehicles the shop has met."""

from typing import Any, ClassVar

from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.utils import timezone

from shop.customers.models import Customer
from vehicles.querysets import VehicleQuerySet


class Vehicle(models.Model):
    """A vehicle known by plate, VIN, or year, make and model; whatever the caller could tell.

    `plate_search` is the plate without spaces and hyphens, in capitals. A VIN is kept even when its check digit
    fails, since vehicles made for outside North America need not carry one.
    """

    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.SET_NULL, related_name="vehicles")
    plate = models.CharField(max_length=16, blank=True)
    plate_search = models.CharField(max_length=16, blank=True, editable=False)
    vin = models.CharField("VIN", max_length=17, blank=True)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    colour = models.CharField(max_length=30, blank=True)
    notes = models.TextField(blank=True)
    family = models.ForeignKey(
        "vehicles.VehicleFamily", null=True, blank=True, on_delete=models.PROTECT, related_name="vehicles"
    )
    # Somebody looked; otherwise the family is what the matcher found without doubt.
    family_is_confirmed = models.BooleanField(default=False)
    variant = models.ForeignKey(
        "vehicles.Variant", null=True, blank=True, on_delete=models.PROTECT, related_name="vehicles"
    )
    created_at = models.DateTimeField(default=timezone.now)

    objects: ClassVar[Any] = VehicleQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["vin"], name="vehicle_vin", condition=~models.Q(vin="")),
            GinIndex(fields=["plate_search"], opclasses=["gin_trgm_ops"], name="vehicle_plate_trigrams"),
            GinIndex(fields=["vin"], opclasses=["gin_trgm_ops"], name="vehicle_vin_trigrams"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(vin="") | models.Q(vin__regex=r"^[A-HJ-NPR-Z0-9]{17}$"),
                name="vehicle_vin_well_formed",
            ),
            models.CheckConstraint(
                condition=~models.Q(plate="", vin="", make="", model=""), name="vehicle_is_known_by_something"
            ),
            models.CheckConstraint(
                condition=models.Q(variant=None) | models.Q(family__isnull=False), name="vehicle_variant_of_a_family"
            ),
        ]

    def __str__(self) -> str:
        return " · ".join(part for part in (self.kind, self.plate) if part) or self.vin

    @property
    def kind(self) -> str:
        """`2018 Halden Brisk`: what kind of vehicle it is, as far as is known."""
        return " ".join(str(part) for part in (self.year, self.make, self.model) if part)
