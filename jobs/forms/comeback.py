"""Which job came back: chosen among the last ones of the customer that are under guarantee."""

from datetime import datetime
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from jobs.models import Job
from shop.models import Shop

MOST_OFFERED = 8


class ComebackField(forms.ModelChoiceField):
    """None unless chosen. Offers nothing until it is told for whom."""

    def __init__(self, **kwargs: Any) -> None:
        usual: dict[str, Any] = {
            "label": "Comeback of",
            "required": False,
            "empty_label": "No, new work",
            "help_text": "A comeback is not charged, unless a price is accepted for it.",
            "error_messages": {"invalid_choice": "That job is no longer under guarantee, or was for another customer."},
        }
        super().__init__(Job.objects.none(), **{**usual, **kwargs})

    def offer(self, customer: int, *, at: datetime, kept: int | None = None) -> None:
        """Offers what a customer (an id) had finished within the guarantee before `at`, and what is chosen."""
        under = Job.objects.may_come_back(customer, at=at, days=Shop.current().guarantee_days)
        found = Job.objects.filter(Q(pk__in=under.values("pk")[:MOST_OFFERED]) | Q(pk=kept or 0))
        self.queryset = found.select_related("vehicle").order_by("-finished_at", "-pk")

    @property
    def has_choices(self) -> bool:
        """Whether there is anything to choose."""
        return bool(self.queryset is not None and self.queryset.exists())

    def label_from_instance(self, obj: Any) -> str:
        plate = obj.vehicle.plate if obj.vehicle else ""
        day = timezone.localtime(obj.finished_at) if obj.finished_at else None
        told = (obj.get_kind_of_work_display(), plate, f"{day:%a} {day.day} {day:%b}" if day else "")
        return f"Job {obj.number}: {', '.join(part for part in told if part)}"
