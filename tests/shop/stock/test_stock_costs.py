"""First in, first out through the database: published examples, and the pure core beside it."""

from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import given, settings
from hypothesis import strategies as st

from shop.models import Shop
from shop.stock import costing
from shop.stock.actions import count, move, receive, spoil, take_back, use
from shop.stock.models import Balance, CostLayer, CostSlice, Item, Movement, MovementKind, Place
from tests.shop.stock.stock_rows import item, shelf, van

pytestmark = pytest.mark.django_db

QUANTITIES = st.integers(1, 12)
COSTS = st.decimals(min_value=0, max_value=40, places=4)


@contextmanager
def undone() -> Iterator[None]:
    """What happens inside is rolled back, so that each drawn example begins with empty tables."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def cost_of(movement: Movement) -> Decimal:
    return CostSlice.objects.filter(movement=movement).aggregate(sum=Sum("cost"))["sum"]


def test_fifo_cost_as_in_fincal() -> None:
    """R package FinCal, example of `cogs`: opening 2 at 2, 3 at 3 and 5 at 5 bought, 7 sold: cost 23, left 15."""
    kept, place = item(), shelf()
    for quantity, cost in ((2, "2"), (3, "3"), (5, "5")):
        receive(kept, actor=None, place=place, quantity=quantity, unit_cost=Decimal(cost))
    assert cost_of(use(kept, actor=None, place=place, quantity=7)) == 23
    assert CostLayer.objects.value(2) == 15


def test_fifo_cost_of_a_textbook_exercise() -> None:
    """Textbook exercise: 13 at 88, 45 at 91, 50 at 92, 22 at 93, of which 97 sold: cost 8,827, left 3,058."""
    kept, place = item(), shelf()
    for quantity, cost in ((13, 88), (45, 91), (50, 92), (22, 93)):
        receive(kept, actor=None, place=place, quantity=quantity, unit_cost=Decimal(cost))
    sold = [use(kept, actor=None, place=place, quantity=quantity) for quantity in (40, 1, 56)]
    assert sum(cost_of(movement) for movement in sold) == 8827
    assert CostLayer.objects.value(2) == 3058


def test_unit_cost_is_not_rounded_before_it_is_multiplied() -> None:
    """InstantCert 318: 830 for 300; 250 of them cost 691.67, not 692.50 as a unit cost of 2.77 would say."""
    kept, place = item(), shelf()
    movement = receive(kept, actor=None, place=place, quantity=300, unit_cost=Decimal("2.7666667"))
    assert movement.cost == 830
    assert cost_of(use(kept, actor=None, place=place, quantity=250)) == Decimal("691.67")


def test_use_beyond_the_books_is_trued_up_by_the_next_receipt() -> None:
    kept, place = item(), van()
    receive(kept, actor=None, place=place, quantity=1, unit_cost=Decimal("4"))
    used = use(kept, actor=None, place=place, quantity=3)
    assert used.is_beyond_books and cost_of(used) == 12
    receive(kept, actor=None, place=place, quantity=5, unit_cost=Decimal("6"))
    assert cost_of(used) == 4 + 2 * 6
    assert CostLayer.objects.value(2) == 3 * 6


def test_taken_back_items_are_as_old_and_as_dear_as_before() -> None:
    kept, place = item(), van()
    receive(kept, actor=None, place=place, quantity=1, unit_cost=Decimal("2"))
    receive(kept, actor=None, place=place, quantity=1, unit_cost=Decimal("9"))
    take_back(use(kept, actor=None, place=place, quantity=1), actor=None)
    assert cost_of(use(kept, actor=None, place=place, quantity=1)) == 2


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.booleans(), QUANTITIES, COSTS), min_size=1, max_size=14))
def test_database_and_pure_core_cost_alike(steps: list[tuple[bool, int, Decimal]]) -> None:
    currency = Shop.current().currency
    layers: tuple[costing.Layer, ...] = ()
    spent = Decimal(0)
    waiting: tuple[costing.Slice, ...] = ()
    with undone():
        kept, place = item(), shelf()
        for is_receipt, quantity, cost in steps:
            if is_receipt:
                came = receive(kept, actor=None, place=place, quantity=quantity, unit_cost=cost)
                layers = (*layers, costing.Layer(Decimal(quantity), came.cost, str(came.pk)))
                before = costing.value_left(layers, currency)
                _, waiting, layers = costing.true_up(waiting, layers, currency=currency)
                spent += before - costing.value_left(layers, currency)
            else:
                use(kept, actor=None, place=place, quantity=quantity)
                slices, layers = costing.consume(layers, Decimal(quantity), currency=currency)
                spent += sum((part.cost for part in slices if not part.is_beyond), Decimal(0))
                waiting = (*waiting, *(part for part in slices if part.is_beyond))
        real = CostSlice.objects.exclude(layer=None).aggregate(sum=Sum("cost"))["sum"] or 0
        assert real == spent
        assert CostLayer.objects.value(2) == costing.value_left(layers, currency)
        owed = CostSlice.objects.filter(layer=None).aggregate(sum=Sum("quantity"))["sum"] or 0
        assert owed == sum(part.quantity for part in waiting)


STEPS = st.one_of(
    st.tuples(st.just("receive"), st.integers(0, 2), QUANTITIES, COSTS),
    st.tuples(st.just("use"), st.integers(0, 2), QUANTITIES, COSTS),
    st.tuples(st.just("spoil"), st.integers(0, 2), QUANTITIES, COSTS),
    st.tuples(st.just("move"), st.integers(0, 2), QUANTITIES, COSTS),
    st.tuples(st.just("count"), st.integers(0, 2), st.integers(0, 12), COSTS),
    st.tuples(st.just("take_back"), st.integers(0, 2), QUANTITIES, COSTS),
)


@settings(max_examples=30, deadline=None)
@given(st.lists(STEPS, min_size=1, max_size=25))
def test_whatever_happens_value_and_quantity_add_up(steps: list[tuple[str, int, int, Decimal]]) -> None:
    with undone():
        kept, places = item(), [shelf(), van("Van 1"), van("Van 2")]
        outs: list[Movement] = []
        for what, where, quantity, cost in steps:
            outs += take_step(kept, places, what, where, quantity, cost, outs)
        check_ledger(kept, places)


def take_step(
    kept: Item, places: list[Place], what: str, where: int, quantity: int, cost: Decimal, outs: list[Movement]
) -> list[Movement]:
    """One step of a drawn story; returns what may be taken back later."""
    place = places[where]
    if what == "receive":
        receive(kept, actor=None, place=place, quantity=quantity, unit_cost=cost)
    elif what == "use":
        return [use(kept, actor=None, place=place, quantity=quantity)]
    elif what == "spoil":
        return [spoil(kept, actor=None, place=place, quantity=quantity, reason="trial")]
    elif what == "move":
        held = Balance.objects.filter(item=kept, place=place).values_list("quantity", flat=True).first() or 0
        if held > 0:
            target = places[(where + 1) % 3]
            move(kept, actor=None, origin=place, target=target, quantity=min(quantity, held))
    elif what == "count":
        count(kept, actor=None, place=place, counted=quantity)
    elif outs:
        take_back(outs.pop(quantity % len(outs)), actor=None)
    return []


def check_ledger(kept: Item, places: list[Place]) -> None:
    """Balances are the sums of movements; what came in is what went out and what is left, in pieces and in money."""
    for place in places:
        moved = Movement.objects.filter(place=place).aggregate(sum=Sum("quantity"))["sum"]
        assert Balance.objects.filter(place=place).aggregate(sum=Sum("quantity"))["sum"] == moved
    layers = list(CostLayer.objects.filter(item=kept).order_by("at", "id"))
    beyond = CostSlice.objects.filter(layer=None, is_taken_back=False).aggregate(sum=Sum("quantity"))["sum"] or 0
    held = Balance.objects.aggregate(sum=Sum("quantity"))["sum"] or 0
    assert held == sum(layer.left for layer in layers) - beyond
    bought = Movement.objects.filter(kind__in=[MovementKind.RECEIVED, MovementKind.COUNTED], quantity__gt=0)
    value_in = bought.aggregate(sum=Sum("cost"))["sum"] or 0
    out = CostSlice.objects.exclude(layer=None).filter(is_taken_back=False).aggregate(sum=Sum("cost"))["sum"] or 0
    left = CostLayer.objects.filter(item=kept).value(2)
    assert value_in == out + left
    core = [costing.Layer(Decimal(row.quantity), row.cost, "", Decimal(row.taken)) for row in layers]
    assert left == costing.value_left(core, Shop.current().currency)
    assert Item.objects.with_value(2).get(pk=kept.pk).value == left
