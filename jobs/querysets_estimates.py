"""Reads of what was learned of times on site."""

from typing import Any

from django.db import models

from vehicles.estimates import keys_of

LEVEL_OF = {0: "shop", 1: "kind", 2: "make", 3: "model"}


class TimeEstimateQuerySet(models.QuerySet[Any]):
    def telling_of(
        self, kind_of_work: str, *, make: str = "", model: str = "", technician_id: int | None = None
    ) -> "TimeEstimateQuerySet":
        """The rows that an estimate for such a job is made of: six at most."""
        wanted = models.Q(level="technician", kind_of_work="", make="", model="") & (
            models.Q(technician=None) | models.Q(technician=technician_id)
        )
        for key in keys_of(kind_of_work, make, model):
            kind, made, named = (*key, "", "", "")[:3]
            wanted |= models.Q(level=LEVEL_OF[len(key)], kind_of_work=kind, make=made, model=named)
        return self.filter(wanted)
