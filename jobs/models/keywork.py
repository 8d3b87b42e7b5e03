"""The key of a job: what was known of it, how it was tried, what was cut. The cuts and codes themselves are guarded."""

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.utils import timezone

from jobs.models.job import Job
from jobs.querysets_keys import KeyWorkQuerySet
from shop.guarded.fields import GuardedField
from shop.stock.models import Item, Place
from vehicles.models import KeySystemSheet
from vehicles.models.long_work import LongWork


class KeyStage(models.TextChoices):
    """How far the key is. Trying means that the candidates are known, be it a single one."""

    BEGUN = "begun", "Begun"
    TRYING = "trying", "Trying"
    FOUND = "found", "Key found"
    MADE = "made", "Key made"


class KeyWay(models.TextChoices):
    """Where the candidates come from."""

    CODE = "code", "From a code"
    LOCK = "lock", "From a lock that was read"
    KEY = "key", "From a worn key"
    EARLIER = "earlier", "From a key made before"


class KeyWork(models.Model):
    """The key work of one job.

    Guarded: `code`; `known` (what was entered: cuts by lock or readings); `trials` (`key_run.Kept`: candidates, tries,
    blanks, plan); `bitting` (the labels of the found key, kept for a duplicate later). In the clear stand counts only:
    `left` candidates, `tries` made. `blank_parts` maps the number of a trial blank to the PartUse that took it.
    `leave_by` is the owner who allowed to cut the expensive blank while several candidates are left.
    """

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="key_work")
    key_system = models.ForeignKey(KeySystemSheet, null=True, on_delete=models.PROTECT, related_name="key_works")
    stage = models.CharField(max_length=6, choices=KeyStage, default=KeyStage.BEGUN)
    way = models.CharField(max_length=7, choices=KeyWay, blank=True)
    where_found = models.CharField(max_length=200, blank=True, help_text="Where the code was found.")

    code: Any = GuardedField()
    code_fingerprint = models.CharField(max_length=64, blank=True, db_index=True)
    known: Any = GuardedField()
    trials: Any = GuardedField()
    bitting: Any = GuardedField()

    left = models.PositiveIntegerField(null=True)
    tries = models.PositiveIntegerField(default=0)
    trial_item = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="+")
    trial_place = models.ForeignKey(Place, null=True, on_delete=models.PROTECT, related_name="+")
    blank_parts = models.JSONField(default=dict)
    leave_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    leave_reason = models.CharField(max_length=200, blank=True)

    final_item = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="+")
    keys_cut = models.PositiveSmallIntegerField(default=0)
    turned_in = ArrayField(models.CharField(max_length=60), default=list, blank=True)
    begun_at = models.DateTimeField(default=timezone.now)
    made_at = models.DateTimeField(null=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[Any] = KeyWorkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(stage="made") ^ models.Q(keys_cut=0), name="key_work_made_has_keys"
            ),
            models.CheckConstraint(
                condition=models.Q(stage="made") ^ models.Q(made_at__isnull=True), name="key_work_made_has_time"
            ),
            models.CheckConstraint(
                condition=models.Q(leave_by__isnull=True) ^ ~models.Q(leave_reason=""), name="key_work_leave_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"Key of {self.job}"

    @property
    def has_kept_key(self) -> bool:
        """Whether the cuts are kept for a duplicate; their time may be up."""
        return self.bitting is not None


class KeyPlan(LongWork):
    """A turn of the trials too long for a request: `asked` (guarded) says what to work out, `turn` counts them."""

    work = models.OneToOneField(KeyWork, on_delete=models.CASCADE, related_name="plan")
    asked: Any = GuardedField()
    turn = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"Plan for {self.work}"
