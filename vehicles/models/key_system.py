"""Key systems as the shop keeps them: the data of the pure core, with where they come from."""

from functools import cached_property
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone

from vehicles.keys import KeySystem
from vehicles.querysets_keys import KeySystemQuerySet


class KeySystemSheet(models.Model):
    """One key system. `data` is what `KeySystem.to_json` wrote; read it through `system`, lengths in mm."""

    name = models.CharField(max_length=80)
    data = models.JSONField()
    source = models.CharField(max_length=300, blank=True)
    notes = models.TextField(blank=True)
    is_active = models.BooleanField(default=True)
    changed_at = models.DateTimeField(default=timezone.now)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")

    objects: ClassVar[Any] = KeySystemQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(Lower("name"), name="key_system_name_once")]

    def __str__(self) -> str:
        return self.name

    @cached_property
    def system(self) -> KeySystem:
        """The key system of the pure core. A changed sheet must be read again."""
        return KeySystem.from_json(self.data)
