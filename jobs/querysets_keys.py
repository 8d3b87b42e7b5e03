"""Reads of key work."""

from typing import Any

from django.db import models


class KeyWorkQuerySet(models.QuerySet[Any]):
    def of(self, job: Any) -> Any | None:
        """The key work of a job with all that its pages name; None when none was begun."""
        return self.filter(job=job).select_related("key_system", "trial_item", "trial_place", "plan").first()

    def in_the_clear(self) -> "KeyWorkQuerySet":
        """Without the sealed columns, which may be large."""
        return self.defer("code", "known", "trials", "bitting")

    def kept_of_vehicle(self, vehicle: Any) -> "KeyWorkQuerySet":
        """Keys made of this vehicle whose cuts are still kept, the newest first."""
        made = self.filter(job__vehicle=vehicle, job__vehicle__isnull=False, bitting__isnull=False, stage="made")
        return made.select_related("job", "key_system").order_by("-made_at")
