"""What stock refuses, what PostgreSQL refuses whoever asks, and four at once."""

from decimal import Decimal

import pytest
from django.db import DatabaseError, transaction
from django.db.models import Sum

from shop.errors import Refused
from shop.stock.actions import (
    add_item,
    add_place,
    change_item,
    change_place,
    count,
    move,
    receive,
    spoil,
    take_back,
    use,
)
from shop.stock.models import Balance, CostLayer, CostSlice, ItemKind, Movement, Place, PlaceKind
from tests.cast import office, technician
from tests.shop.stock.stock_rows import item, shelf, van
from tests.threads import at_once


@pytest.mark.django_db
@pytest.mark.parametrize("quantity", [0, -1])
def test_nothing_and_less_than_nothing_is_refused(quantity: int) -> None:
    kept, place = item(), shelf()
    with pytest.raises(Refused) as receiving:
        receive(kept, actor=None, place=place, quantity=quantity, unit_cost=Decimal(1))
    with pytest.raises(Refused) as using:
        use(kept, actor=None, place=place, quantity=quantity)
    assert receiving.value.field == using.value.field == "quantity"
    assert not Movement.objects.exists()


@pytest.mark.django_db
def test_negative_cost_and_negative_count_are_refused() -> None:
    kept, place = item(), shelf()
    with pytest.raises(Refused):
        receive(kept, actor=None, place=place, quantity=1, unit_cost=Decimal("-0.01"))
    with pytest.raises(Refused):
        count(kept, actor=None, place=place, counted=-1)
    assert not Movement.objects.exists()


@pytest.mark.django_db
def test_move_takes_no_more_than_the_books_hold_and_not_to_the_same_place() -> None:
    kept, place, target = item(), shelf(), van()
    receive(kept, actor=None, place=place, quantity=2, unit_cost=Decimal(1))
    with pytest.raises(Refused, match="hold 2"):
        move(kept, actor=None, origin=place, target=target, quantity=3)
    with pytest.raises(Refused):
        move(kept, actor=None, origin=place, target=place, quantity=1)
    assert Movement.objects.count() == 1


@pytest.mark.django_db
def test_spoiling_asks_how() -> None:
    with pytest.raises(Refused) as refused:
        spoil(item(), actor=None, place=van(), quantity=1, reason="lost")
    assert refused.value.field == "reason"


@pytest.mark.django_db
def test_take_back_happens_once() -> None:
    kept, place = item(), van()
    used = use(kept, actor=None, place=place, quantity=2)
    take_back(used, actor=None)
    with pytest.raises(Refused):
        take_back(used, actor=None)
    assert Balance.objects.get(item=kept).quantity == 0


@pytest.mark.django_db
@pytest.mark.parametrize("change", [{"note": "changed"}, None])
def test_postgres_refuses_to_change_or_delete_a_movement(change: dict[str, str] | None) -> None:
    movement = use(item(), actor=None, place=van(), quantity=1)
    rows = Movement.objects.filter(pk=movement.pk)
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        rows.update(**change) if change else rows._raw_delete("default")
    assert rows.get().note == ""


@pytest.mark.django_db
def test_numbers_names_and_drivers_are_taken_once() -> None:
    driver = technician()
    kept, place = item(number="B-1"), van("Van 1", driver)
    facts = {"name": "Other", "kind": ItemKind.BLANK, "price": Decimal(1)}
    with pytest.raises(Refused) as by_number:
        add_item(actor=None, number=kept.number, **facts)
    with pytest.raises(Refused) as by_name:
        add_place(actor=None, name=place.name, kind=PlaceKind.VAN, driver=None)
    with pytest.raises(Refused) as by_driver:
        add_place(actor=None, name="Van 2", kind=PlaceKind.VAN, driver=driver)
    assert [each.value.field for each in (by_number, by_name, by_driver)] == ["number", "name", "driver"]


@pytest.mark.django_db
def test_only_a_technician_drives_and_a_shelf_is_not_driven() -> None:
    with pytest.raises(Refused):
        add_place(actor=None, name="Van 1", kind=PlaceKind.VAN, driver=office())
    place = shelf()
    with pytest.raises(Refused):
        change_place(place, actor=None, name=place.name, kind=PlaceKind.SHELF, driver=technician())
    assert not Place.objects.exclude(driver=None).exists()


@pytest.mark.django_db
def test_changed_price_leaves_the_ledger_alone() -> None:
    kept, place = item(), shelf()
    receive(kept, actor=None, place=place, quantity=3, unit_cost=Decimal("1.25"))
    change_item(kept, actor=None, price=Decimal("12.00"))
    kept.refresh_from_db()
    assert (kept.price, kept.last_cost, CostLayer.objects.value(2)) == (12, Decimal("1.25"), Decimal("3.75"))


@pytest.mark.django_db(transaction=True)
def test_four_at_once_leave_ledger_balances_and_layers_agreeing() -> None:
    """Each thread receives, uses, moves and takes back the same two items in another order."""
    items, places = [item(), item()], [shelf(), van("Van 1"), van("Van 2")]
    for kept in items:
        receive(kept, actor=None, place=places[0], quantity=40, unit_cost=Decimal("1.11"))

    def work(number: int) -> int:
        for turn in range(12):
            kept, place = items[(number + turn) % 2], places[(number + turn) % 3]
            receive(kept, actor=None, place=place, quantity=2, unit_cost=Decimal(turn))
            used = use(kept, actor=None, place=places[turn % 3], quantity=3)
            move(kept, actor=None, origin=places[0], target=places[1], quantity=1)
            if turn % 3 == 0:
                take_back(used, actor=None)
        return number

    done = at_once(*(lambda number=number: work(number) for number in range(4)))
    assert done == [0, 1, 2, 3]
    for kept in items:
        moved = Movement.objects.filter(item=kept).aggregate(sum=Sum("quantity"))["sum"]
        assert Balance.objects.filter(item=kept).aggregate(sum=Sum("quantity"))["sum"] == moved
        layers = CostLayer.objects.filter(item=kept)
        left = sum(layer.left for layer in layers)
        slices = CostSlice.objects.filter(movement__item=kept, is_taken_back=False)
        beyond = slices.filter(layer=None).aggregate(sum=Sum("quantity"))["sum"] or 0
        assert moved == left - beyond
        bought = Movement.objects.filter(item=kept, kind="received").aggregate(sum=Sum("cost"))["sum"]
        out = slices.exclude(layer=None).aggregate(sum=Sum("cost"))["sum"] or 0
        assert bought == out + layers.value(2)
