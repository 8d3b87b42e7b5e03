"""Customers, how to reach them and where they are."""

from typing import Any, ClassVar

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models.functions import Concat, Upper
from django.utils import timezone

from shop.customers.querysets import CustomerQuerySet, Folded


class CustomerKind(models.TextChoices):
    PERSON = "person", "Person"
    ACCOUNT = "account", "Account customer"


class Customer(models.Model):
    """Somebody the shop works for: a person, or a business with terms.

    `name_search` is what lists are ordered by and searches look at: both names without capitals, accents and
    apostrophes. PostgreSQL itself keeps it in step.
    """

    kind = models.CharField(max_length=7, choices=CustomerKind, default=CustomerKind.PERSON)
    name = models.CharField(max_length=160)
    contact_name = models.CharField(max_length=100, blank=True)
    name_search = models.GeneratedField(
        expression=Folded(Concat("name", models.Value(" "), "contact_name")),
        output_field=models.TextField(db_collation="C"),
        db_persist=True,
    )
    warning = models.CharField(max_length=300, blank=True, help_text="Shown as soon as this customer calls.")
    notes = models.TextField(blank=True)
    terms_days = models.PositiveSmallIntegerField(default=0, help_text="Days to pay; 0 means on the spot.")
    billing_address = models.TextField(blank=True)
    tax_number = models.CharField(max_length=60, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    objects: ClassVar[Any] = CustomerQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["name_search", "id"], name="customer_in_order"),
            GinIndex(fields=["name_search"], opclasses=["gin_trgm_ops"], name="customer_search_trigrams"),
        ]

    def __str__(self) -> str:
        return self.name


class CustomerPhone(models.Model):
    """One telephone number of a customer, in E.164."""

    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="phones")
    number = models.CharField(max_length=16)
    label = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["customer", "number"], name="customer_phone_once"),
            models.CheckConstraint(condition=models.Q(number__regex=r"^\+[0-9]{3,15}$"), name="customer_phone_e164"),
        ]
        indexes = [
            models.Index(fields=["number"], name="customer_phone_number"),
            GinIndex(fields=["number"], opclasses=["gin_trgm_ops"], name="customer_phone_trigrams"),
        ]

    def __str__(self) -> str:
        return self.number


class CustomerEmail(models.Model):
    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="emails")
    address = models.EmailField()
    label = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["customer", "address"], name="customer_email_once")]
        indexes = [GinIndex(OpClass(Upper("address"), name="gin_trgm_ops"), name="customer_email_trigrams")]

    def __str__(self) -> str:
        return self.address


class Address(models.Model):
    """A place where a customer is found, with how to get in and, where known, its coordinates (WGS 84)."""

    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="addresses")
    label = models.CharField(max_length=60, blank=True)
    street = models.CharField(max_length=200)
    town = models.CharField(max_length=120, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    access_notes = models.CharField(max_length=300, blank=True, help_text="Gate code, level of the car park, dog.")
    latitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)
    longitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "addresses"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True, longitude__isnull=True)
                | models.Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="address_coordinates_both_or_none",
            )
        ]

    def __str__(self) -> str:
        return ", ".join(part for part in (self.street, self.town) if part)
