"""Reads of procedures as they were run."""

from typing import TYPE_CHECKING, Any

from django.db import models

if TYPE_CHECKING:
    from jobs.models import Visit


class RunQuerySet(models.QuerySet[Any]):
    def running(self) -> "RunQuerySet":
        return self.filter(ended_at=None)

    def of_visit(self, visit: "Visit") -> "RunQuerySet":
        return self.filter(visit=visit)

    def with_version(self) -> "RunQuerySet":
        """Loads what the page of a run shows."""
        return self.select_related("version__procedure__family", "version__procedure__variant", "variant")
