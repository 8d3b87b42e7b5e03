"""Reads of jobs, visits and parts."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import models

from jobs.states import LIVE_VISITS, OPEN_JOBS, JobState, VisitState
from shop.staff.roles import Role

CALL_FACTS = (
    "number",
    "kind_of_work",
    "locked_in",
    "customer__name",
    "vehicle__year",
    "vehicle__make",
    "vehicle__model",
    "vehicle__plate",
    "street",
    "town",
    "latitude",
    "promise_from",
    "promise_until",
    "expected_minutes",
)
BLOCK_FACTS = (
    "id",
    "state",
    "during",
    "set_off_at",
    "arrived_at",
    "finished_at",
    "technician_id",
    "technician__name",
    "job__number",
    "job__kind_of_work",
    "job__locked_in",
    "job__customer__name",
    "job__vehicle__year",
    "job__vehicle__make",
    "job__vehicle__model",
    "job__vehicle__plate",
    "job__street",
    "job__town",
    "job__latitude",
    "job__longitude",
    "job__promise_from",
    "job__promise_until",
)


class JobQuerySet(models.QuerySet[Any]):
    def for_user(self, person: Any) -> "JobQuerySet":
        """Office and owner see every job; a technician sees the jobs with a visit of their own."""
        if person.roles & {Role.OFFICE, Role.OWNER}:
            return self
        return self.filter(models.Exists(self._visits_of(person)))

    def _visits_of(self, person: Any) -> "models.QuerySet[Any]":
        visits = self.model.visits.rel.related_model.objects
        own: models.QuerySet[Any] = visits.filter(job=models.OuterRef("pk"), technician=person)
        return own.exclude(state=VisitState.CALLED_OFF)

    def open(self) -> "JobQuerySet":
        return self.filter(state__in=OPEN_JOBS)

    def waiting(self) -> "JobQuerySet":
        """Waiting calls, people in danger first, then the most urgent promise."""
        danger = models.Case(models.When(locked_in="nobody", then=1), default=0)
        return self.filter(state=JobState.WAITING).order_by(
            danger, models.F("promise_until").asc(nulls_last=True), "called_at"
        )

    def with_facts(self) -> "JobQuerySet":
        """With what a row of a list shows."""
        return self.select_related("customer", "vehicle")

    def as_calls(self) -> "models.QuerySet[Any, Any]":
        """Named rows of what the day sheet shows of a waiting call; much cheaper than objects."""
        return self.values_list(*CALL_FACTS, named=True)

    def finished(self) -> "JobQuerySet":
        return self.filter(state=JobState.FINISHED)

    def may_come_back(self, customer: Any, *, at: datetime, days: int) -> "JobQuerySet":
        """Jobs of a customer under guarantee at a moment: finished in the `days` before it; the last finished first."""
        since = at - timedelta(days=days)
        return self.finished().filter(customer=customer, finished_at__range=(since, at)).order_by("-finished_at", "-pk")


class VisitQuerySet(models.QuerySet[Any]):
    def for_user(self, person: Any) -> "VisitQuerySet":
        if person.roles & {Role.OFFICE, Role.OWNER}:
            return self
        return self.filter(technician=person)

    def own(self, person: Any) -> "VisitQuerySet":
        """Visits that this person drives to, whatever else they may see."""
        return self.filter(technician=person)

    def on_round(self, start: datetime, end: datetime, *, left_since: datetime) -> "VisitQuerySet":
        """Visits of a span, and those begun or booked since `left_since` that nobody has finished; in order."""
        return (
            self.standing()
            .filter(during__overlap=(left_since, end))
            .filter(models.Q(during__overlap=(start, end)) | models.Q(state__in=LIVE_VISITS))
            .order_by("during")
        )

    def standing(self) -> "VisitQuerySet":
        return self.exclude(state=VisitState.CALLED_OFF)

    def between(self, start: datetime, end: datetime) -> "VisitQuerySet":
        """Visits whose booked time touches the span, in order of start."""
        return self.filter(during__overlap=(start, end)).order_by("during")

    def as_blocks(self) -> "models.QuerySet[Any, Any]":
        """Named rows of what the day sheet shows of a visit; much cheaper than five objects for each."""
        return self.values_list(*BLOCK_FACTS, named=True)

    def with_job(self) -> "VisitQuerySet":
        return self.select_related("job__customer", "job__vehicle", "technician")


class PartUseQuerySet(models.QuerySet[Any]):
    def standing(self) -> "PartUseQuerySet":
        return self.filter(taken_back=None)

    def with_cost(self) -> "PartUseQuerySet":
        """Adds `cost`: what the items really cost the shop, first in, first out, with later corrections."""
        return self.annotate(cost=models.functions.Coalesce(models.Sum("movement__slices__cost"), Decimal(0)))
