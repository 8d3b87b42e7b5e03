"""Vehicle families: the vehicles that share their key facts, and what tells apart those that do not."""

from typing import Any, ClassVar
from uuid import uuid4

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone

from shop.stock.models import Item
from vehicles.models.key_system import KeySystemSheet
from vehicles.querysets_know import FamilyQuerySet
from vehicles.states import ItemRole


class VehicleFamily(models.Model):
    """Vehicles of one make that take the same key. Families may overlap: `vehicles.families.match` tells them apart.

    `vin_pattern` is the beginning of a VIN, with ? for any character. `uid` names the same family in the
    files that shops exchange. `key_capacity` is how many keys a vehicle of it can learn.
    """

    uid = models.UUIDField(default=uuid4, unique=True, editable=False)
    name = models.CharField(max_length=80)
    make = models.CharField(max_length=60)
    model_names = ArrayField(models.CharField(max_length=60))
    year_from = models.PositiveSmallIntegerField()
    year_until = models.PositiveSmallIntegerField()
    market = models.CharField(max_length=60, blank=True)
    vin_pattern = models.CharField(max_length=17, blank=True)
    transponder = models.CharField(max_length=80, blank=True)
    has_remote = models.BooleanField(default=False)
    key_system = models.ForeignKey(
        KeySystemSheet, null=True, blank=True, on_delete=models.PROTECT, related_name="families"
    )
    key_capacity = models.PositiveSmallIntegerField(null=True, blank=True)
    code_place = models.CharField(max_length=300, blank=True)
    access_steps = models.TextField(blank=True)
    access_tools = models.CharField(max_length=300, blank=True)
    access_caution = models.CharField(max_length=300, blank=True)
    is_near_airbag = models.BooleanField(default=False)
    notes = models.TextField(blank=True)
    source = models.CharField(max_length=300, blank=True)
    is_active = models.BooleanField(default=True)
    changed_at = models.DateTimeField(default=timezone.now)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    items = models.ManyToManyField(Item, through="FamilyItem", related_name="families")

    objects: ClassVar[Any] = FamilyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "vehicle families"
        indexes = [models.Index(Lower("make"), name="family_make")]
        constraints = [
            models.UniqueConstraint(Lower("make"), Lower("name"), name="family_name_once_in_make"),
            models.CheckConstraint(
                condition=models.Q(year_from__gte=1900, year_from__lte=models.F("year_until")),
                name="family_years_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(vin_pattern="") | models.Q(vin_pattern__regex=r"^[A-HJ-NPR-Z0-9?]{1,17}$"),
                name="family_vin_pattern_well_formed",
            ),
            models.CheckConstraint(condition=models.Q(model_names__len__gt=0), name="family_has_models"),
            models.CheckConstraint(
                condition=models.Q(key_capacity=None) | models.Q(key_capacity__gt=0), name="family_learns_a_key"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.name}"

    @property
    def years(self) -> str:
        """`2014–2018`, or one year."""
        return str(self.year_from) if self.year_from == self.year_until else f"{self.year_from}–{self.year_until}"


class FamilyItem(models.Model):
    """An item of stock that the keys of a family are made of."""

    family = models.ForeignKey(VehicleFamily, on_delete=models.CASCADE, related_name="family_items")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="family_items")
    role = models.CharField(max_length=11, choices=ItemRole)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["family", "item", "role"], name="family_item_once")]

    def __str__(self) -> str:
        return f"{self.get_role_display()}: {self.item}"


class Variant(models.Model):
    """Vehicles of a family that differ under the skin. `sign` is what to look at, before work begins."""

    uid = models.UUIDField(default=uuid4, unique=True, editable=False)
    family = models.ForeignKey(VehicleFamily, on_delete=models.PROTECT, related_name="variants")
    name = models.CharField(max_length=80)
    sign = models.CharField(max_length=300)
    photo = models.FileField(upload_to="variants", blank=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint("family", Lower("name"), name="variant_name_once_in_family"),
            models.CheckConstraint(condition=~models.Q(sign=""), name="variant_has_a_sign"),
        ]

    def __str__(self) -> str:
        return self.name
