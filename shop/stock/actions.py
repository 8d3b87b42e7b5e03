"""Every write on stock. Each locks the item's row first, so that movements of one item follow one another."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from shop.errors import Refused
from shop.staff.models import Person
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
    movement = _move(locked, place, MovementKind.RECEIVED, quantity, actor, at, cost=quantity * unit_cost, note=note)
    _add_layer(locked, movement, quantity, unit_cost)
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
    """Undoes a use or a spoiling: items go back to their place and into the very layers they came from."""
    locked = _lock(movement.item)
    slices = list(CostSlice.objects.select_for_update().filter(movement=movement, is_taken_back=False))
    if movement.quantity >= 0 or not slices:
        raise Refused("There is nothing to take back.")
    for part in slices:
        if part.layer_id:
            CostLayer.objects.filter(pk=part.layer_id).update(left=F("left") + part.quantity)
    CostSlice.objects.filter(pk__in=[part.pk for part in slices]).update(is_taken_back=True)
    note = f"Taken back: {movement.get_kind_display().lower()}"  # type: ignore[attr-defined]
    return _move(
        locked, movement.place, MovementKind.RETURNED, -movement.quantity, actor, at, cost=movement.cost, note=note
    )


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
    cost = difference * locked.last_cost
    movement = _move(locked, place, MovementKind.COUNTED, difference, actor, at, cost=cost, note=note)
    _add_layer(locked, movement, difference, locked.last_cost)
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


def _add_layer(item: Item, movement: Movement, quantity: int, unit_cost: Decimal) -> None:
    """Adds a cost layer, less what was already used beyond the books: those came out of this receipt."""
    layer = CostLayer.objects.create(
        item=item, received=movement, at=movement.at, quantity=quantity, left=quantity, unit_cost=unit_cost
    )
    owed = CostSlice.objects.filter(movement__item=item, layer=None, is_taken_back=False).order_by("pk")
    for part in owed:
        if part.quantity > layer.left:
            break
        layer.left -= part.quantity
        part.layer = layer
        part.save(update_fields=["layer"])
    layer.save(update_fields=["left"])


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
    layers = list(CostLayer.objects.select_for_update().filter(item=locked, left__gt=0))
    slices: list[CostSlice] = []
    wanted = quantity
    for layer in layers:
        if not wanted:
            break
        taken = min(layer.left, wanted)
        layer.left -= taken
        wanted -= taken
        slices.append(CostSlice(layer=layer, quantity=taken, unit_cost=layer.unit_cost))
    if wanted:
        slices.append(CostSlice(layer=None, quantity=wanted, unit_cost=locked.last_cost))
    cost = sum((part.quantity * part.unit_cost for part in slices), Decimal(0))
    movement = _move(
        locked, place, kind, -quantity, actor, at, cost=cost, reason=reason, note=note, is_beyond_books=bool(wanted)
    )
    CostLayer.objects.bulk_update(layers, ["left"])
    for part in slices:
        part.movement = movement
    CostSlice.objects.bulk_create(slices)
    return movement
