"""One technician's booked time on a job."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from jobs.models.job import Job
from jobs.querysets import VisitQuerySet
from jobs.states import VisitState


class Visit(models.Model):
    """`during` is the booked time, start included and end not; two visits of one technician never overlap.

    `hourly_cost` of the technician and the shop's `travel_cost_per_km` are copied at the finish, so that a raise or
    another rate does not move what was earned before.
    `set_off_at`, `arrived_at` and `finished_at` are when it really happened, as tapped or as corrected later.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    technician = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="visits")
    state = models.CharField(max_length=10, choices=VisitState, default=VisitState.BOOKED)
    during = DateTimeRangeField()
    set_off_at = models.DateTimeField(null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    drive_km = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    hourly_cost = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    travel_cost_per_km = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)

    objects: ClassVar[Any] = VisitQuerySet.as_manager()

    class Meta:
        constraints = [
            ExclusionConstraint(
                name="visit_no_overlap",
                expressions=[("technician", RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
                condition=~models.Q(state="called_off"),
                violation_error_message="This technician already has a visit in that time.",
            ),
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(state__in=["booked", "on_the_way", "on_site"]),
                name="visit_one_live_per_job",
            ),
            models.CheckConstraint(condition=models.Q(during__isempty=False), name="visit_takes_some_time"),
        ]
        indexes = [models.Index(fields=["job", "state"], name="visit_job_state")]

    def __str__(self) -> str:
        return f"Visit of {self.technician} on {self.job}"

    @property
    def starts_at(self) -> datetime:
        return self.during.lower

    @property
    def ends_at(self) -> datetime:
        return self.during.upper
