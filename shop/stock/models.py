"""Items, where they are, what they cost: an append-only ledger of movements with first in, first out cost layers."""

from decimal import Decimal
from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from shop.stock.querysets import CostLayerQuerySet, ItemQuerySet


class ItemKind(models.TextChoices):
    BLANK = "blank", "Blank"
    TRANSPONDER_BLANK = "transponder_blank", "Transponder blank"
    FOB = "fob", "Fob"
    REMOTE = "remote", "Remote"
    CELL = "cell", "Cell"
    LOCK_PART = "lock_part", "Lock part"
    CONSUMABLE = "consumable", "Consumable"


class PlaceKind(models.TextChoices):
    SHELF = "shelf", "Shelf"
    VAN = "van", "Van"


class MovementKind(models.TextChoices):
    RECEIVED = "received", "Received"
    MOVED = "moved", "Moved"
    USED = "used", "Used on a job"
    SPOILED = "spoiled", "Spoiled"
    RETURNED = "returned", "Returned"
    COUNTED = "counted", "Counted"


class SpoiledReason(models.TextChoices):
    MISCUT = "miscut", "Miscut"
    NOT_PROGRAMMED = "not_programmed", "Would not program"
    TRIAL = "trial", "Trial key"
    DAMAGED = "damaged", "Damaged"


class Supplier(models.Model):
    name = models.CharField(max_length=120, unique=True)
    phone = models.CharField(max_length=20, blank=True)
    email = models.EmailField(blank=True)
    lead_days = models.PositiveSmallIntegerField(default=7)

    def __str__(self) -> str:
        return self.name


class Item(models.Model):
    """Something the shop keeps and sells; prices and costs are without tax, in the shop's currency."""

    number = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=160)
    kind = models.CharField(max_length=17, choices=ItemKind)
    price = models.DecimalField(max_digits=10, decimal_places=2, validators=[MinValueValidator(Decimal("0"))])
    last_cost = models.DecimalField(max_digits=12, decimal_places=4, default=Decimal("0"))
    tax_class = models.CharField(max_length=20, default="parts")
    supplier = models.ForeignKey(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="items")
    is_active = models.BooleanField(default=True)

    objects: ClassVar[Any] = ItemQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=models.Q(price__gte=0), name="item_price_not_negative"),
            models.CheckConstraint(condition=models.Q(last_cost__gte=0), name="item_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class Place(models.Model):
    """Where stock is: the shop's shelf or one van."""

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=5, choices=PlaceKind)
    driver = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="van"
    )

    def __str__(self) -> str:
        return self.name


class Balance(models.Model):
    """How many of an item are at a place; kept in step with the movements by the one action that writes both."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="balances")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="balances")
    quantity = models.IntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["item", "place"], name="balance_once")]

    def __str__(self) -> str:
        return f"{self.item} at {self.place}: {self.quantity}"


class Movement(models.Model):
    """One change of what is where. Never changed or deleted; a mistake is another movement.

    `quantity` is signed: what the place gained. `cost` is the total cost of what left (or came), positive;
    `is_beyond_books` marks use of more than the books held, costed at the last cost.
    """

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="movements")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=8, choices=MovementKind)
    quantity = models.IntegerField()
    cost = models.DecimalField(max_digits=14, decimal_places=4, default=Decimal("0"))
    reason = models.CharField(max_length=14, choices=SpoiledReason, blank=True)
    note = models.CharField(max_length=200, blank=True)
    is_beyond_books = models.BooleanField(default=False)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["item", "at"], name="movement_item_at")]
        constraints = [
            models.CheckConstraint(condition=~models.Q(quantity=0), name="movement_moves_something"),
            models.CheckConstraint(condition=models.Q(cost__gte=0), name="movement_cost_not_negative"),
            models.CheckConstraint(
                condition=models.Q(kind="spoiled") ^ models.Q(reason=""), name="movement_spoiled_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity} {self.item}"


class CostLayer(models.Model):
    """One receipt: so many for so much altogether, of which `taken` is used up. Used oldest first, shop-wide.

    The cost is kept as a sum, not per unit, so that nothing is lost to rounding (see `shop.stock.costing`).
    """

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="layers")
    received = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    quantity = models.PositiveIntegerField()
    taken = models.PositiveIntegerField(default=0)
    cost = models.DecimalField(max_digits=14, decimal_places=4)

    objects: ClassVar[Any] = CostLayerQuerySet.as_manager()

    class Meta:
        ordering = ["at", "id"]
        indexes = [
            models.Index(fields=["item", "at"], name="layer_open", condition=models.Q(taken__lt=models.F("quantity")))
        ]
        constraints = [
            models.CheckConstraint(condition=models.Q(taken__lte=models.F("quantity")), name="layer_taken_within"),
            models.CheckConstraint(condition=models.Q(cost__gte=0), name="layer_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.left} of {self.quantity} {self.item}"

    @property
    def left(self) -> int:
        return self.quantity - self.taken


class CostSlice(models.Model):
    """How many of what left in a movement came out of which layer, and their cost.

    No layer means beyond what the books held, at the last cost; the next receipt trues it up. What a movement
    really cost is the sum of its slices.
    """

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="slices")
    layer = models.ForeignKey(CostLayer, null=True, on_delete=models.PROTECT, related_name="slices")
    quantity = models.PositiveIntegerField()
    cost = models.DecimalField(max_digits=14, decimal_places=4)
    is_taken_back = models.BooleanField(default=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(quantity__gt=0), name="slice_of_something")]

    def __str__(self) -> str:
        return f"{self.quantity} for {self.cost}"
