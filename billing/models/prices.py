"""The simple price book: call-out by distance, labour by kind of work, after-hours, tax. All prices without tax."""

from datetime import date
from datetime import time as clock_time
from decimal import Decimal
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models

from jobs.states import KindOfWork

NOT_NEGATIVE = [MinValueValidator(Decimal("0"))]


class CallOutBand(models.Model):
    """What it costs to come out, up to a distance by road from the shop."""

    up_to_km = models.DecimalField(
        max_digits=6, decimal_places=1, unique=True, validators=[MinValueValidator(Decimal("0.1"))]
    )
    price = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)

    class Meta:
        ordering = ["up_to_km"]

    def __str__(self) -> str:
        return f"up to {self.up_to_km} km"


class LabourPrice(models.Model):
    """Price and usual time on site of one kind of work."""

    kind_of_work = models.CharField(max_length=14, choices=KindOfWork, unique=True)
    price = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)
    minutes = models.PositiveSmallIntegerField(default=60, validators=[MinValueValidator(5)])
    tax_class = models.CharField(max_length=20, default="labour")

    def __str__(self) -> str:
        return self.get_kind_of_work_display()


class TaxRate(models.Model):
    """Percent of tax on one class of lines, from a date on. A class with no rate bears none."""

    tax_class = models.CharField(max_length=20)
    name = models.CharField(max_length=60)
    percent = models.DecimalField(max_digits=6, decimal_places=3, validators=NOT_NEGATIVE)
    holds_from = models.DateField(default=date(2000, 1, 1))

    class Meta:
        ordering = ["tax_class", "-holds_from"]
        constraints = [models.UniqueConstraint(fields=["tax_class", "holds_from"], name="tax_rate_once_a_day")]

    def __str__(self) -> str:
        return f"{self.name} {self.percent} %"


class PriceBook(models.Model):
    """The one row of prices that are not per distance, kind of work or item."""

    SINGLE_ID: ClassVar[int] = 1

    after_hours_from = models.TimeField(default=clock_time(18, 0))
    after_hours_until = models.TimeField(default=clock_time(8, 0))
    is_weekend_after_hours = models.BooleanField(default=True)
    after_hours_price = models.DecimalField(
        max_digits=10, decimal_places=2, default=Decimal("0"), validators=NOT_NEGATIVE
    )
    call_out_tax_class = models.CharField(max_length=20, default="labour")

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="price_book_only_one")]

    def __str__(self) -> str:
        return "Price book"
