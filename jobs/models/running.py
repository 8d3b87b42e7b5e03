"""Procedures as they were run: which version on which job, each step as it was done, and what came of it."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from jobs.models.job import Job
from jobs.models.visit import Visit
from jobs.querysets_running import RunQuerySet
from vehicles.models import ProcedureStep, ProcedureVersion, Variant, VehicleFamily


class Light(models.TextChoices):
    """What a light on the dash does."""

    OUT = "out", "Goes out"
    ON = "on", "Stays on"
    FLASHES = "flashes", "Flashes"
    NONE = "none", "There is none"


class RunOutcome(models.TextChoices):
    WORKED = "worked", "Worked"
    NOT = "not", "Did not work"


class ProcedureRun(models.Model):
    """One run of a version on a visit. The version never changes, so an old job keeps what was done on it.

    `family` is copied from the version's procedure, to find what came of work on a family. `why` says why it did not
    work, or what took long. `start_tried_with` is the number of keys with which the start was tried.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="runs")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="runs")
    version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="runs")
    family = models.ForeignKey(VehicleFamily, on_delete=models.PROTECT, related_name="+", db_index=False)
    variant = models.ForeignKey(Variant, null=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(default=timezone.now)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=6, choices=RunOutcome, blank=True)
    why = models.CharField(max_length=300, blank=True)
    keys_learned = models.PositiveSmallIntegerField(null=True)
    start_tried_with = models.PositiveSmallIntegerField(null=True)
    immobilizer_light = models.CharField(max_length=7, choices=Light, blank=True)
    alarm_light = models.CharField(max_length=7, choices=Light, blank=True)

    objects: ClassVar[Any] = RunQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["family", "-started_at"], name="run_family_started")]
        constraints = [
            models.UniqueConstraint(fields=["visit"], condition=models.Q(ended_at=None), name="run_one_open_per_visit"),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, outcome="")
                | models.Q(ended_at__isnull=False) & ~models.Q(outcome=""),
                name="run_ended_has_outcome",
            ),
            models.CheckConstraint(condition=~models.Q(outcome="not", why=""), name="run_not_worked_has_why"),
        ]

    def __str__(self) -> str:
        return f"{self.version} on {self.job}"


class StepDone(models.Model):
    """A mark on a step: done, or its wait begun (`is_begin`). Only grows; a measure taken again is a row more.

    `at` is when the phone saw it done, `client_id` what the phone called it, so that a mark sent twice is one.
    `reason` says why the work went on outside the limits.
    """

    run = models.ForeignKey(ProcedureRun, on_delete=models.PROTECT, related_name="marks")
    step = models.ForeignKey(ProcedureStep, on_delete=models.PROTECT, related_name="+")
    client_id = models.UUIDField(unique=True)
    is_begin = models.BooleanField(default=False)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    measured = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    reason = models.CharField(max_length=300, blank=True)
    note = models.CharField(max_length=300, blank=True)
    immobilizer_light = models.CharField(max_length=7, choices=Light, blank=True)
    alarm_light = models.CharField(max_length=7, choices=Light, blank=True)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.step} at {self.at:%H:%M}"
