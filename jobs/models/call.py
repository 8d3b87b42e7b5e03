"""A call not yet taken to its end."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class CallDraft(models.Model):
    """What was typed of a call so far, kept as typed, so that nothing is lost when the line drops."""

    key = models.UUIDField(unique=True)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    typed = models.JSONField(default=dict)
    started_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-changed_at"]

    def __str__(self) -> str:
        return f"Call of {self.started_at:%H:%M}"
