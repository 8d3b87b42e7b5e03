"""The shop itself: its facts and settings, counters for numbers people see, and forms already taken in."""

import time
from datetime import time as clock_time
from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone


class PaperSize(models.TextChoices):
    A4 = "A4", "A4"
    LETTER = "Letter", "Letter"


class TaxRoundingMode(models.TextChoices):
    HALF_UP = "half_up", "Half up"
    HALF_EVEN = "half_even", "Half to even"
    UP = "up", "Always up"


class TaxRoundingScope(models.TextChoices):
    LINE = "line", "Each line"
    RATE = "rate", "Each tax rate"
    INVOICE = "invoice", "The whole invoice"


class Shop(models.Model):
    """The one shop that this installation serves. Read it through `Shop.current()`."""

    SINGLE_ID: ClassVar[int] = 1
    KEPT_SECONDS: ClassVar[float] = 3.0
    _kept: ClassVar[tuple[float, "Shop"] | None] = None

    name = models.CharField(max_length=120, default="Our locksmith shop")
    licence_number = models.CharField(max_length=60, blank=True)
    street = models.CharField(max_length=200, blank=True)
    town = models.CharField(max_length=120, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    country = models.CharField(
        max_length=2, default="US", help_text="Two letters; decides how telephone numbers are read."
    )
    phone = models.CharField(max_length=20, blank=True)
    email = models.EmailField(blank=True)
    tax_number = models.CharField(max_length=60, blank=True)
    latitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)
    longitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    currency = models.CharField(max_length=3, default="USD")
    paper_size = models.CharField(max_length=6, choices=PaperSize, default=PaperSize.A4)
    tax_rounding_mode = models.CharField(max_length=9, choices=TaxRoundingMode, default=TaxRoundingMode.HALF_UP)
    tax_rounding_scope = models.CharField(max_length=7, choices=TaxRoundingScope, default=TaxRoundingScope.RATE)
    payment_terms_days = models.PositiveSmallIntegerField(default=0)
    invoice_words = models.TextField(blank=True, help_text="Printed at the foot of every invoice.")
    emergency_number = models.CharField(max_length=20, default="112")
    day_starts = models.TimeField(default=clock_time(7, 0))
    day_ends = models.TimeField(default=clock_time(20, 0))
    promise_minutes = models.PositiveSmallIntegerField(
        default=60, help_text="Usual length of the window told to a caller."
    )
    drive_speed_kmh = models.PositiveSmallIntegerField(
        default=40, validators=[MinValueValidator(5), MaxValueValidator(130)]
    )
    travel_cost_per_km = models.DecimalField(max_digits=8, decimal_places=3, default=Decimal("0.450"))
    card_fee_percent = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal("0"))
    guarantee_days = models.PositiveSmallIntegerField(
        default=90, help_text="How long after its finish a job may come back free of charge."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="shop_only_one"),
            models.CheckConstraint(
                condition=models.Q(day_starts__lt=models.F("day_ends")), name="shop_day_starts_before_end"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> "Shop":
        """The shop's row, made with defaults when missing; kept for a few seconds in each process."""
        kept = cls._kept
        if kept and time.monotonic() - kept[0] < cls.KEPT_SECONDS:
            return kept[1]
        shop, _ = cls.objects.get_or_create(id=cls.SINGLE_ID)
        cls._kept = (time.monotonic(), shop)
        return shop

    @classmethod
    def forget(cls) -> None:
        """Drops the kept row, so that a change is seen at once in this process."""
        cls._kept = None


class Counter(models.Model):
    """The last number given out of one series (jobs, invoices of a year). Take the next with `actions.next_number`."""

    series = models.CharField(max_length=40, primary_key=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.series}: {self.last}"


class SentForm(models.Model):
    """A form that was taken in once; the same key sent again gets the same answer."""

    key = models.UUIDField(unique=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    path = models.CharField(max_length=300)
    result_url = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    def __str__(self) -> str:
        return f"{self.path} {self.key}"


class GuardProof(models.Model):
    """A known text sealed with the shop's keys, so that wrong keys are noticed before anything is written with them."""

    SINGLE_ID: ClassVar[int] = 1

    token = models.BinaryField()
    index_proof = models.CharField(max_length=64)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="guard_proof_only_one")]

    def __str__(self) -> str:
        return "Proof of the guard's keys"
