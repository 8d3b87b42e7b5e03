"""Reads of stock."""

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models.functions import Coalesce, Round


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
        here = self._balances().filter(place_id=place_id)
        return self.annotate(here=Coalesce(models.Subquery(here.values("quantity")[:1]), 0))

    def with_quantities(self) -> "ItemQuerySet":
        """Adds `held`, how many there are at all places together, and loads each place's balance."""
        held = self._balances().values("item").annotate(sum=models.Sum("quantity")).values("sum")
        return self.prefetch_related("balances").annotate(held=Coalesce(models.Subquery(held), 0))

    def with_value(self, digits: int) -> "ItemQuerySet":
        """Adds `value`: what the items that are left cost, to so many digits of the currency."""
        layers = self.model.layers.rel.related_model.objects.filter(item=models.OuterRef("pk")).open()
        sums = layers.with_left_cost(digits).order_by().values("item").annotate(sum=models.Sum("left_cost"))
        return self.annotate(value=Coalesce(models.Subquery(sums.values("sum")), Decimal(0)))

    def below_nothing(self) -> "ItemQuerySet":
        """Items of which the books of some place hold less than nothing."""
        return self.filter(models.Exists(self._balances().filter(quantity__lt=0)))

    def _balances(self) -> "models.QuerySet[Any]":
        balances: models.QuerySet[Any] = self.model.balances.rel.related_model.objects.filter(
            item=models.OuterRef("pk")
        )
        return balances


class CostLayerQuerySet(models.QuerySet[Any]):
    def open(self) -> "CostLayerQuerySet":
        return self.filter(taken__lt=models.F("quantity"))

    def with_left_cost(self, digits: int) -> "CostLayerQuerySet":
        """Adds `left_cost`: the layer's cost less the rounded cost of all taken from it (`shop.stock.costing`)."""
        exact = models.DecimalField(max_digits=30, decimal_places=12)
        taken = models.ExpressionWrapper(
            models.F("cost") * models.F("taken") / models.F("quantity"), output_field=exact
        )
        return self.annotate(
            left_cost=models.ExpressionWrapper(
                models.F("cost") - Round(taken, precision=digits),
                output_field=models.DecimalField(max_digits=20, decimal_places=4),
            )
        )

    def value(self, digits: int) -> Decimal:
        """What all that is left of these layers cost."""
        sums = self.open().with_left_cost(digits).aggregate(value=models.Sum("left_cost"))
        return sums["value"] or Decimal(0)
