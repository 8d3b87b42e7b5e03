"""Movements of stock. Each locks the item's row first, so that movements of one item follow one another."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from shop.errors import Refused
from shop.models import Shop
from shop.money import quantize
from shop.staff.models import Person
from shop.stock import costing
from shop.stock.models import (
    Balance,
    CostLayer,
    CostSlice,
    Item,
    Movement,
    MovementKind,
    Place,
    SpoiledReason,
)


@transaction.atomic
def receive(
    item: Item,
    *,
    actor: Person | None,
    place: Place,
    quantity: int,
    unit_cost: Decimal,
    at: datetime | None = None,
    note: str = "",
) -> Movement:
    """Takes goods in at the cost paid for each; they become the youngest cost layer."""
    _check_quantity(quantity)
    if unit_cost < 0:
        raise Refused("A cost is not below nothing.", field="unit_cost")
    locked = _lock(item)
    cost = _rounded(quantity * unit_cost)
    movement = _move(locked, place, MovementKind.RECEIVED, quantity, actor, at, cost=cost, note=note)
    _add_layer(movement, quantity, cost, at=movement.at)
    _true_up(locked)
    locked.last_cost = unit_cost
    locked.save(update_fields=["last_cost"])
    return movement


@transaction.atomic
def move(
    item: Item, *, actor: Person | None, origin: Place, target: Place, quantity: int, at: datetime | None = None
) -> tuple[Movement, Movement]:
    """Carries items from one place to another. What they cost does not change."""
    _check_quantity(quantity)
    if origin == target:
        raise Refused("Choose another place to move to.", field="target")
    locked = _lock(item)
    held = Balance.objects.filter(item=locked, place=origin).values_list("quantity", flat=True).first() or 0
    if held < quantity:
        raise Refused(f"The books hold {held} at {origin.name}. Count it first if there are more.", field="quantity")
    out = _move(locked, origin, MovementKind.MOVED, -quantity, actor, at, note=f"To {target.name}")
    arrived = _move(locked, target, MovementKind.MOVED, quantity, actor, at, note=f"From {origin.name}")
    return out, arrived


@transaction.atomic
def use(
    item: Item, *, actor: Person | None, place: Place, quantity: int, at: datetime | None = None, note: str = ""
) -> Movement:
    """Uses items up, oldest cost first. More than the books hold is allowed: the van has it, the book does not."""
    return _take_out(item, place, MovementKind.USED, quantity, actor, at, note=note)


@transaction.atomic
def spoil(
    item: Item,
    *,
    actor: Person | None,
    place: Place,
    quantity: int,
    reason: SpoiledReason | str,
    at: datetime | None = None,
    note: str = "",
) -> Movement:
    """Uses items up without a key coming of them."""
    if reason not in SpoiledReason.values:
        raise Refused("Say how it was spoiled.", field="reason")
    return _take_out(item, place, MovementKind.SPOILED, quantity, actor, at, reason=str(reason), note=note)


@transaction.atomic
def take_back(movement: Movement, *, actor: Person | None, at: datetime | None = None) -> Movement:
    """Undoes a use or a spoiling: the items go back to their place, at the cost at which they left and as old."""
    locked = _lock(movement.item)
    slices = list(CostSlice.objects.filter(movement=movement, is_taken_back=False).select_related("layer"))
    if movement.quantity >= 0 or not slices:
        raise Refused("There is nothing to take back.")
    CostSlice.objects.filter(pk__in=[part.pk for part in slices]).update(is_taken_back=True)
    note = f"Taken back: {movement.get_kind_display().lower()}"
    cost = sum((part.cost for part in slices), Decimal(0))
    back = _move(locked, movement.place, MovementKind.RETURNED, -movement.quantity, actor, at, cost=cost, note=note)
    for part in slices:
        if part.layer:
            _add_layer(back, part.quantity, part.cost, at=part.layer.at)
    return back


@transaction.atomic
def count(
    item: Item, *, actor: Person | None, place: Place, counted: int, at: datetime | None = None
) -> Movement | None:
    """Sets the books to what was counted. Too few leave at their cost, too many come in at the last cost paid."""
    if counted < 0:
        raise Refused("A count is not below nothing.", field="counted")
    locked = _lock(item)
    held = Balance.objects.filter(item=locked, place=place).values_list("quantity", flat=True).first() or 0
    difference = counted - held
    if difference == 0:
        return None
    note = f"Counted {counted}, books said {held}"
    if difference < 0:
        return _take_out(locked, place, MovementKind.COUNTED, -difference, actor, at, note=note)
    cost = _rounded(difference * locked.last_cost)
    movement = _move(locked, place, MovementKind.COUNTED, difference, actor, at, cost=cost, note=note)
    _add_layer(movement, difference, cost, at=movement.at)
    _true_up(locked)
    return movement


def _check_quantity(quantity: int) -> None:
    if quantity < 1:
        raise Refused("Give a quantity of at least one.", field="quantity")


def _lock(item: Item) -> Item:
    locked: Item = Item.objects.select_for_update(of=("self",)).get(pk=item.pk)
    return locked


def _move(
    item: Item,
    place: Place,
    kind: MovementKind,
    quantity: int,
    actor: Person | None,
    at: datetime | None,
    *,
    cost: Decimal = Decimal(0),
    reason: str = "",
    note: str = "",
    is_beyond_books: bool = False,
) -> Movement:
    """Writes the movement and the balance that follows from it."""
    Balance.objects.bulk_create([Balance(item=item, place=place)], ignore_conflicts=True)
    Balance.objects.filter(item=item, place=place).update(quantity=F("quantity") + quantity)
    return Movement.objects.create(
        item=item,
        place=place,
        kind=kind,
        quantity=quantity,
        cost=cost,
        reason=reason,
        note=note,
        is_beyond_books=is_beyond_books,
        at=at or timezone.now(),
        by=actor,
    )


def _add_layer(movement: Movement, quantity: int, cost: Decimal, *, at: datetime) -> None:
    CostLayer.objects.create(item=movement.item, received=movement, at=at, quantity=quantity, cost=cost)


def _true_up(item: Item) -> None:
    """Serves earlier uses beyond the books out of what has just come in; their slices then cost what was paid."""
    waiting = list(CostSlice.objects.filter(movement__item=item, layer=None, is_taken_back=False).order_by("pk"))
    for beyond in waiting:
        held = sum(layer.quantity - layer.taken for layer in _open_layers(item))
        served = min(beyond.quantity, held)
        if not served:
            return
        _keep_slices(beyond.movement, _consume(item, served))
        beyond.quantity -= served
        if not beyond.quantity:
            beyond.delete()
        else:
            beyond.cost = _rounded(beyond.quantity * item.last_cost)
            beyond.save(update_fields=["quantity", "cost"])


def _open_layers(item: Item) -> list[CostLayer]:
    return list(CostLayer.objects.select_for_update().filter(item=item, taken__lt=F("quantity")))


def _consume(item: Item, quantity: int) -> list[CostSlice]:
    """Takes from the item's layers, oldest first, and keeps what was taken of each. The item's row is locked."""
    rows = {str(row.pk): row for row in _open_layers(item)}
    layers = [costing.Layer(Decimal(row.quantity), row.cost, key, Decimal(row.taken)) for key, row in rows.items()]
    taken, _ = costing.consume(layers, Decimal(quantity), currency=Shop.current().currency)
    slices = []
    for part in taken:
        row = None if part.is_beyond else rows[part.key]
        if row:
            row.taken += int(part.quantity)
        cost = part.cost if row else _rounded(part.quantity * item.last_cost)
        slices.append(CostSlice(layer=row, quantity=int(part.quantity), cost=cost))
    CostLayer.objects.bulk_update(rows.values(), ["taken"])
    return slices


def _keep_slices(movement: Movement, slices: list[CostSlice]) -> None:
    for part in slices:
        part.movement = movement
    CostSlice.objects.bulk_create(slices)


def _rounded(cost: Decimal) -> Decimal:
    return quantize(cost, Shop.current().currency)


def _take_out(
    item: Item,
    place: Place,
    kind: MovementKind,
    quantity: int,
    actor: Person | None,
    at: datetime | None,
    *,
    reason: str = "",
    note: str = "",
) -> Movement:
    _check_quantity(quantity)
    locked = _lock(item)
    slices = _consume(locked, quantity)
    cost = sum((part.cost for part in slices), Decimal(0))
    is_beyond = any(part.layer is None for part in slices)
    movement = _move(
        locked, place, kind, -quantity, actor, at, cost=cost, reason=reason, note=note, is_beyond_books=is_beyond
    )
    _keep_slices(movement, slices)
    return movement
