"""Reads of stock."""

from typing import Any

from django.db import models


class ItemQuerySet(models.QuerySet[Any]):
    def active(self) -> "ItemQuerySet":
        return self.filter(is_active=True)

    def matching(self, text: str) -> "ItemQuerySet":
        """Items whose number begins with `text`, or whose name or number holds every word of it."""
        words = text.split()
        if not words:
            return self
        by_words = models.Q()
        for word in words:
            by_words &= models.Q(name__icontains=word) | models.Q(number__icontains=word)
        return self.filter(models.Q(number__istartswith=text.strip()) | by_words)

    def with_quantity_at(self, place_id: int | None) -> "ItemQuerySet":
        """Adds `here`: how many the books hold at this place."""
        here = self.model.balances.rel.related_model.objects.filter(item=models.OuterRef("pk"), place_id=place_id)
        return self.annotate(here=models.functions.Coalesce(models.Subquery(here.values("quantity")[:1]), 0))
