"""Work too long for a request: a row that says how far it is, and from which a restarted worker goes on."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class LongWork(models.Model):
    """How far a piece of work is. `heard_at` is the last sign of life of the worker that does it."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        RUNNING = "running", "Being made"
        DONE = "done", "Done"
        REFUSED = "refused", "Could not be done"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    state = models.CharField(max_length=7, choices=State, default=State.WAITING)
    percent = models.PositiveSmallIntegerField(default=0)
    words = models.TextField(blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    heard_at = models.DateTimeField(default=timezone.now)

    class Meta:
        abstract = True

    @property
    def is_under_way(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)


class TrialPlanRequest(LongWork):
    """A plan of trials too large for a request: the key system, what is known, and, once done, the plan.

    Kept for a day for the person who asked.
    """

    key_system = models.ForeignKey("vehicles.KeySystemSheet", on_delete=models.CASCADE, related_name="+")
    asked = models.JSONField()
    result = models.JSONField(null=True)

    class Meta:
        indexes = [models.Index(fields=["asked_at"], name="trial_plan_asked")]

    def __str__(self) -> str:
        return f"{self.key_system} {self.asked_at:%Y-%m-%d %H:%M}"
