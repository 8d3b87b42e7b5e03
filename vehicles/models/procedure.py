"""Procedures: the steps of one kind of work on one family or variant, in versions that never change."""

from typing import Any, ClassVar
from uuid import uuid4

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.utils import timezone

from vehicles.models.family import Variant, VehicleFamily
from vehicles.querysets_know import ProcedureQuerySet, VersionQuerySet
from vehicles.states import KindOfWork, StepKind, VersionState


class Procedure(models.Model):
    """How one kind of work is done on a family, or on one variant of it. What is done stands in its versions."""

    uid = models.UUIDField(default=uuid4, unique=True, editable=False)
    family = models.ForeignKey(VehicleFamily, on_delete=models.PROTECT, related_name="procedures")
    variant = models.ForeignKey(Variant, null=True, blank=True, on_delete=models.PROTECT, related_name="procedures")
    kind_of_work = models.CharField(max_length=16, choices=KindOfWork)

    objects: ClassVar[Any] = ProcedureQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["family", "variant", "kind_of_work"], nulls_distinct=False, name="procedure_once"
            )
        ]

    def __str__(self) -> str:
        words = f"{self.get_kind_of_work_display()}, {self.family}"
        return f"{words}, {self.variant}" if self.variant_id else words


class ProcedureVersion(models.Model):
    """One state of a procedure: proposed, then accepted or rejected; an accepted one is superseded by the next.

    Only state, decision and reason ever change; PostgreSQL refuses the rest. `low_volts` and `high_volts` bound the
    supply voltage during this work. `based_on` is the version that its author had before them.
    """

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=VersionState, default=VersionState.PROPOSED)
    based_on = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="+")
    change_words = models.CharField(max_length=300, blank=True)
    source = models.CharField(max_length=300)
    proved_by = models.CharField(max_length=200, blank=True)
    equipment = ArrayField(models.CharField(max_length=120), default=list, blank=True)
    low_volts = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    high_volts = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField(default=timezone.now)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)
    reason = models.CharField(max_length=300, blank=True)

    objects: ClassVar[Any] = VersionQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["procedure", "number"], name="version_number_once"),
            models.UniqueConstraint(
                fields=["procedure"], condition=models.Q(state="accepted"), name="version_one_accepted"
            ),
            models.CheckConstraint(
                condition=models.Q(state="proposed", decided_at=None)
                | ~models.Q(state="proposed") & ~models.Q(decided_at=None),
                name="version_decided_or_proposed",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="rejected", reason=""), name="version_rejected_has_reason"
            ),
            models.CheckConstraint(
                condition=models.Q(low_volts=None)
                | models.Q(high_volts=None)
                | models.Q(low_volts__lt=models.F("high_volts")),
                name="version_volts_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.procedure}, version {self.number}"


class ProcedureStep(models.Model):
    """One step. A measure has a `unit` and limits (`low`, `high`, either may be absent), a wait has `seconds`.

    `is_uninterruptible`: once begun it must run to its end, so supply and signal are looked at before it.
    `asks_immobilizer_light`: what the immobilizer's light does is written down, apart from the alarm's.
    """

    version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="steps")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=7, choices=StepKind)
    words = models.CharField(max_length=500)
    caution = models.CharField(max_length=300, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    low = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    high = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    seconds = models.PositiveIntegerField(null=True)
    is_uninterruptible = models.BooleanField(default=False)
    asks_immobilizer_light = models.BooleanField(default=False)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["version", "position"], name="step_position_once"),
            models.CheckConstraint(
                condition=models.Q(position__gte=1) & ~models.Q(words=""), name="step_says_something"
            ),
            models.CheckConstraint(
                condition=models.Q(kind="wait", seconds__gte=1, seconds__lte=43_200)
                | ~models.Q(kind="wait") & models.Q(seconds=None),
                name="step_wait_has_seconds",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="measure") & ~models.Q(unit="")
                | ~models.Q(kind="measure") & models.Q(unit="", low=None, high=None),
                name="step_measure_has_unit",
            ),
            models.CheckConstraint(
                condition=models.Q(low=None) | models.Q(high=None) | models.Q(low__lte=models.F("high")),
                name="step_limits_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}. {self.words}"
