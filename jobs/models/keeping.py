"""How long things are kept: the shop's own times, holds, what each night did, erasures, exports, requests to see."""

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from jobs.models.authority import RecordRule
from jobs.models.job import Job
from jobs.querysets_keeping import HoldQuerySet, InspectionQuerySet
from jobs.record_rules import Thing, Way
from shop.customers.models import Customer
from shop.guarded.fields import GuardedStorage
from vehicles.models.long_work import LongWork

EXPORTS_STORAGE = GuardedStorage()
WAYS = [(Way.POST.value, "By post"), (Way.ELECTRONIC.value, "Electronically")]
YEARS = [MinValueValidator(1), MaxValueValidator(100)]


class KeepingTimes(models.Model):
    """The shop's own times, beside those of the record rules. Money years: common practice, no source; laws differ."""

    SINGLE_ID: ClassVar[int] = 1

    money_years = models.PositiveSmallIntegerField(default=10, validators=YEARS)
    photo_years = models.PositiveSmallIntegerField(default=2, validators=YEARS)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="keeping_times_only_one"),
            models.CheckConstraint(
                condition=models.Q(money_years__range=(1, 100), photo_years__range=(1, 100)),
                name="keeping_times_between_1_and_100_years",
            ),
        ]

    def __str__(self) -> str:
        return "Times of keeping"

    @classmethod
    def current(cls) -> "KeepingTimes":
        times, _ = cls.objects.get_or_create(id=cls.SINGLE_ID)
        return times


class Hold(models.Model):
    """Nothing of this job, or of this customer, is deleted. Never changed or deleted; lifting it is a row of its own.

    It holds to the end of day `until`, or until it is lifted when that is empty.
    """

    class Kind(models.TextChoices):
        DISPUTE = "dispute", "Dispute"
        REQUEST = "request", "Request of an authority"

    job = models.ForeignKey(Job, null=True, on_delete=models.PROTECT, related_name="holds")
    customer = models.ForeignKey(Customer, null=True, on_delete=models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=7, choices=Kind)
    reason = models.CharField(max_length=300)
    until = models.DateField(null=True)
    added_at = models.DateTimeField(default=timezone.now)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[Any] = HoldQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(job__isnull=True) ^ models.Q(customer__isnull=True), name="hold_on_one_thing"
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="hold_has_reason"),
        ]

    def __str__(self) -> str:
        return f"Hold on {self.job or self.customer}"


class HoldLift(models.Model):
    """A hold was lifted: by whom and why. Never changed or deleted."""

    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="lift")
    reason = models.CharField(max_length=300)
    lifted_at = models.DateTimeField(default=timezone.now)
    lifted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(reason=""), name="hold_lift_has_reason")]

    def __str__(self) -> str:
        return f"{self.hold} lifted"


class KeepingRun(models.Model):
    """What one night deleted or made anonymous. `counts`: kind to number, a kind is in it once it is done;
    `failures`: kinds that could not be done, tried again within the hour. `spared` holds stood."""

    night = models.DateField(unique=True)
    begun_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True)
    counts = models.JSONField(default=dict)
    failures = models.JSONField(default=list)
    spared = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-night"]

    def __str__(self) -> str:
        return f"Night of {self.night}"


class Erasure(models.Model):
    """A customer is to be erased. What a duty keeps meanwhile goes in the night in which the duty ends, which also
    writes `done_at`. `done` says in words, with dates, what went when. `asked_by` is empty where the night asked, by
    the money years."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="erasures")
    reason = models.CharField(max_length=300)
    asked_at = models.DateTimeField(default=timezone.now)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    done = models.JSONField(default=list)
    done_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["customer"], condition=models.Q(done_at__isnull=True), name="erasure_one_open_per_customer"
            )
        ]

    def __str__(self) -> str:
        return f"Erasure of customer {self.customer_id}"


class DataExport(LongWork):
    """All that is known of a customer as one file, encrypted on disk and deleted after a week.

    With a `reason` the guarded values are opened for it, each opening recorded; without one they are left out.
    """

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="exports")
    reason = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to="exports/%Y/%m", storage=EXPORTS_STORAGE, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"Export of customer {self.customer_id}"


class InspectionRequest(models.Model):
    """An authority asked to see records: of a time, or of one job. Its clock runs by the rule of the day it came.

    `answer_by` is the last day for the answer, empty where the rule names none.
    """

    authority = models.CharField(max_length=120)
    received_on = models.DateField()
    way = models.CharField(max_length=10, choices=WAYS)
    rule = models.ForeignKey(RecordRule, on_delete=models.PROTECT, related_name="+")
    answer_by = models.DateField(null=True)
    thing = models.CharField(
        max_length=8, blank=True, choices=[(each.value, each.value.capitalize()) for each in Thing]
    )
    only_keys = models.BooleanField(default=False)
    since = models.DateField(null=True)
    until = models.DateField(null=True)
    job = models.ForeignKey(Job, null=True, on_delete=models.PROTECT, related_name="inspection_requests")
    written_at = models.DateTimeField(default=timezone.now)
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    answered_how = models.CharField(max_length=200, blank=True)

    objects: ClassVar[Any] = InspectionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(job__isnull=False)
                | models.Q(since__isnull=False, until__isnull=False, since__lte=models.F("until")),
                name="inspection_of_a_job_or_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(answered_at__isnull=True) ^ models.Q(answered_by__isnull=False),
                name="inspection_answered_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"Request of {self.authority}"
