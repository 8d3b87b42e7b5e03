"""The job: one piece of work at one place for one customer."""

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.utils import timezone

from jobs.querysets import JobQuerySet
from jobs.states import OPEN_JOBS, JobState, KindOfWork, LockedIn
from shop.customers.models import Customer
from vehicles.models import Vehicle


class Payer(models.TextChoices):
    CALLER = "caller", "The caller, on the spot"
    ACCOUNT = "account", "Account customer, by invoice"
    OTHER = "other", "Somebody else"


class Job(models.Model):
    """A numbered job. Its state is kept in step with its visits by jobs.actions and nothing else.

    The place is copied onto the job, so that a later change of the customer's address does not rewrite history.
    """

    number = models.PositiveBigIntegerField(unique=True)
    state = models.CharField(max_length=12, choices=JobState, default=JobState.WAITING)
    kind_of_work = models.CharField(max_length=14, choices=KindOfWork)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    vehicle = models.ForeignKey(Vehicle, null=True, blank=True, on_delete=models.PROTECT, related_name="jobs")
    caller_name = models.CharField(max_length=100, blank=True)
    caller_phone = models.CharField(max_length=16, blank=True)
    locked_in = models.CharField(max_length=10, choices=LockedIn, default=LockedIn.NOBODY)
    description = models.TextField(blank=True)
    owner_name = models.CharField(max_length=100, blank=True, help_text="Who owns the vehicle or building.")
    proof_offered = models.CharField(max_length=200, blank=True, help_text="How ownership can be shown.")
    payer = models.CharField(max_length=7, choices=Payer, default=Payer.CALLER)
    payer_note = models.CharField(max_length=200, blank=True)
    purchase_order = models.CharField(max_length=60, blank=True)

    street = models.CharField(max_length=200, blank=True)
    town = models.CharField(max_length=120, blank=True)
    access_notes = models.CharField(max_length=300, blank=True)
    latitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)
    longitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)

    promise_from = models.DateTimeField(null=True, blank=True)
    promise_until = models.DateTimeField(null=True, blank=True)
    expected_minutes = models.PositiveSmallIntegerField(default=60)
    comeback_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="comebacks")

    called_at = models.DateTimeField(default=timezone.now)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    closed_reason = models.CharField(max_length=200, blank=True)

    objects: ClassVar[Any] = JobQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(promise_from__isnull=True, promise_until__isnull=True)
                | models.Q(promise_from__lte=models.F("promise_until")),
                name="job_promise_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True, longitude__isnull=True)
                | models.Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="job_coordinates_both_or_none",
            ),
            models.CheckConstraint(
                condition=models.Q(state="finished") ^ models.Q(finished_at__isnull=True),
                name="job_finished_has_time",
            ),
            models.CheckConstraint(condition=models.Q(expected_minutes__gt=0), name="job_takes_some_time"),
        ]
        indexes = [
            models.Index(fields=["promise_until"], name="job_waiting", condition=models.Q(state="waiting")),
            models.Index(fields=["state", "-called_at"], name="job_state_called"),
            models.Index(fields=["finished_at"], name="job_finished"),
            models.Index(fields=["-called_at"], name="job_called"),
            GinIndex(fields=["caller_phone"], opclasses=["gin_trgm_ops"], name="job_caller_phone_trigrams"),
        ]

    def __str__(self) -> str:
        return f"Job {self.number}"

    @property
    def is_open(self) -> bool:
        return self.state in OPEN_JOBS

    @property
    def is_emergency(self) -> bool:
        return self.locked_in != LockedIn.NOBODY

    @property
    def place(self) -> str:
        return ", ".join(part for part in (self.street, self.town) if part)
