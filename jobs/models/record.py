"""What happened on a job: events, parts used, photos."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from jobs.models.job import Job
from jobs.models.visit import Visit
from jobs.querysets import PartUseQuerySet
from shop.stock.models import Item, Movement


class EventKind(models.TextChoices):
    TAKEN = "taken", "Call taken"
    BOOKED = "booked", "Booked"
    MOVED = "moved", "Moved"
    UNBOOKED = "unbooked", "Unbooked"
    SET_OFF = "set_off", "Set off"
    ARRIVED = "arrived", "Arrived"
    FINISHED = "finished", "Finished"
    CALLED_OFF = "called_off", "Called off"
    TURNED_AWAY = "turned_away", "Turned away"
    NO_ANSWER = "no_answer", "No answer"
    REOPENED = "reopened", "Reopened"
    NOTE = "note", "Note"
    TIMES_CORRECTED = "times_corrected", "Times corrected"
    CHANGED = "changed", "Changed"
    AUTHORITY = "authority", "Authority"
    KEY = "key", "Key"
    PROCEDURE = "procedure", "Procedure"


class JobEvent(models.Model):
    """One thing that happened on a job. Never changed or deleted.

    `at` is when it happened, `recorded_at` when the program learned of it; `details` holds what changed (old, new).
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="events")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=16, choices=EventKind)
    at = models.DateTimeField(default=timezone.now)
    recorded_at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    words = models.TextField(blank=True)
    details = models.JSONField(default=dict)

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["job", "at"], name="event_job_at")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.job}"


class PartUse(models.Model):
    """An item used or spoiled on a job; the movement carries place, quantity and cost.

    `charged` is false for what the customer does not pay, such as a spoiled blank. A use taken back keeps its row
    and points to the movement that brought the item back.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="parts")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="parts")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="uses")
    quantity = models.PositiveIntegerField()
    is_charged = models.BooleanField(default=True)
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="use")
    taken_back = models.OneToOneField(Movement, null=True, on_delete=models.PROTECT, related_name="use_taken_back")

    objects: ClassVar[Any] = PartUseQuerySet.as_manager()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(quantity__gt=0), name="part_use_of_something")]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item} on {self.job}"


class Photo(models.Model):
    """A photo taken on a job; served only through a view that checks who asks."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="photos")
    file = models.FileField(upload_to="photos/%Y/%m")
    words = models.CharField(max_length=200, blank=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"Photo on {self.job}"
