"""What the shop's own history says of times on site, worked out every night."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models

from jobs.querysets_estimates import TimeEstimateQuerySet
from jobs.states import KindOfWork


class TimeLevel(models.TextChoices):
    SHOP = "shop", "The shop"
    KIND = "kind", "Kind of work"
    MAKE = "make", "Make"
    MODEL = "model", "Model"
    TECHNICIAN = "technician", "Technician"


class TimeEstimate(models.Model):
    """One node or technician of the model in vehicles.estimates; all rows are replaced together.

    `log_mean` is the mean of the natural logarithm of the minutes (for a technician: what they add to it; for the shop:
    what it adds to the price book's minutes), `spread` the standard deviation about it (for a technician: of the error
    of what they add), `reach` how many spreads the 80 % range goes to either side, `jobs` how many stand behind it.
    Make and model are in small letters, as they are compared; empty is a job of which they were not told. A row of
    level technician without one is for whoever is not known yet.
    """

    level = models.CharField(max_length=10, choices=TimeLevel)
    kind_of_work = models.CharField(max_length=14, choices=KindOfWork, blank=True)
    make = models.CharField(max_length=180, blank=True)
    model = models.CharField(max_length=180, blank=True)
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    log_mean = models.FloatField()
    spread = models.FloatField()
    reach = models.FloatField(default=0)
    jobs = models.PositiveIntegerField(default=0)
    computed_at = models.DateTimeField()

    objects: ClassVar[Any] = TimeEstimateQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind_of_work", "make", "model", "level", "technician"],
                name="time_estimate_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(condition=models.Q(spread__gte=0), name="time_estimate_spread_not_negative"),
        ]

    def __str__(self) -> str:
        return " · ".join(part for part in (self.get_level_display(), self.kind_of_work, self.make, self.model) if part)
