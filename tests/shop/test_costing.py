from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.stock.costing import CostingError, Layer, Slice, average_cost, consume, true_up, value_left

D = Decimal


def cost(slices: tuple[Slice, ...]) -> Decimal:
    return sum((each.cost for each in slices), D(0))


def test_consume_agrees_with_the_example_of_the_fincal_package() -> None:
    # R package FinCal, example of `cogs`: opening 2 at 2, buys 3 at 3 and 5 at 5, sells 7: first in, first out
    # costs 23 and leaves 15; the weighted average costs 26.6 and leaves 11.4.
    layers = (Layer(D(2), D(4), "opening"), Layer(D(3), D(9), "first buy"), Layer(D(5), D(25), "second buy"))
    slices, left = consume(layers, D(7))
    assert [(each.quantity, each.cost, each.key) for each in slices] == [
        (2, 4, "opening"),
        (3, 9, "first buy"),
        (2, 10, "second buy"),
    ]
    assert (cost(slices), value_left(left)) == (23, 15)
    assert average_cost(layers, D(7)) == D("26.6")
    assert value_left(layers) - average_cost(layers, D(7)) == D("11.4")


def test_consume_agrees_with_a_printed_textbook_exercise() -> None:
    # Textbook exercise, periodic, 97 sold: layers 13 at 88, 45 at 91, 50 at 92, 22 at 93 cost 8,827 and leave
    # 3,058.
    layers = tuple(Layer(D(n), D(n * each)) for n, each in ((13, 88), (45, 91), (50, 92), (22, 93)))
    slices, left = consume(layers, D(97), currency="USD")
    assert (cost(slices), value_left(left, "USD")) == (D(8827), D(3058))


def test_the_unit_cost_is_not_rounded_before_multiplying() -> None:
    # InstantCert 318: 830 / 300 printed as 2.77 gives 692.50 for 250 units; exact is 691.67.
    slices, left = consume((Layer(D(300), D("830.00")),), D(250), currency="USD")
    assert cost(slices) == D("691.67")
    assert value_left(left, "USD") == D("138.33")


def test_use_beyond_the_books_is_flagged_and_costed_like_the_last_receipt() -> None:
    layers = (Layer(D(1), D("2.00"), "old"), Layer(D(2), D("9.00"), "new"))
    slices, left = consume(layers, D(5), currency="USD")
    assert [(each.quantity, each.cost, each.is_beyond) for each in slices] == [
        (1, D("2.00"), False),
        (2, D("9.00"), False),
        (2, D("9.00"), True),
    ]
    # Only the newest layer is kept once it is empty, so that years of receipts do not pile up.
    assert [(layer.key, layer.left) for layer in left] == [("new", 0)]
    again, _ = consume(left, D(1), currency="USD")
    assert [(each.cost, each.is_beyond) for each in again] == [(D("4.50"), True)]
    never, none = consume((), D(1), currency="USD")
    assert (never, none) == ((Slice(D(1), D("0.00"), is_beyond=True),), ())


def test_a_receipt_trues_up_what_was_used_before_it_came() -> None:
    _, left = consume((Layer(D(2), D("8.00")),), D(2), currency="USD")
    beyond, left = consume(left, D(3), currency="USD")
    assert cost(beyond) == D("12.00")
    correction, waiting, left = true_up(beyond, (*left, Layer(D(2), D("9.00"))), currency="USD")
    assert (correction, waiting) == (D("1.00"), (Slice(D(1), D("4.00"), is_beyond=True),))
    correction, waiting, left = true_up(waiting, (*left, Layer(D(4), D("14.00"))), currency="USD")
    assert (correction, waiting, value_left(left, "USD")) == (D("-0.50"), (), D("10.50"))


@pytest.mark.parametrize("quantity", ["0", "-1", "NaN", "Infinity"])
def test_a_quantity_not_above_nothing_is_refused(quantity: str) -> None:
    with pytest.raises(CostingError, match="quantity"):
        consume((Layer(D(1), D(1)),), D(quantity))


def test_figures_below_nothing_are_refused() -> None:
    for quantity, paid, taken in ((0, 1, 0), (-1, 1, 0), (1, -1, 0), (1, 1, 2), (1, 1, -1)):
        with pytest.raises(CostingError):
            Layer(D(quantity), D(paid), taken=D(taken))
    with pytest.raises(CostingError, match="Only 1"):
        average_cost((Layer(D(1), D(1)),), D(2))


quantities = st.decimals(min_value="0.001", max_value=500, places=3)
costs = st.decimals(min_value=0, max_value=5000, places=2)
moves = st.lists(st.one_of(st.tuples(st.just("in"), quantities, costs), st.tuples(st.just("out"), quantities)))


@given(moves=moves)
def test_value_in_is_value_out_and_value_left_for_any_sequence(moves: list[tuple[object, ...]]) -> None:
    layers: tuple[Layer, ...] = ()
    waiting: tuple[Slice, ...] = ()
    came = went = D(0)
    for move in moves:
        if move[0] == "in":
            layer = Layer(D(str(move[1])), D(str(move[2])))
            came += layer.cost
            correction, waiting, layers = true_up(waiting, (*layers, layer), currency="USD")
            went += correction
        else:
            slices, layers = consume(layers, D(str(move[1])), currency="USD")
            waiting += tuple(each for each in slices if each.is_beyond)
            went += cost(slices)
    # What waits for a receipt has been charged to its use, but nothing has been paid for it yet.
    assert came + cost(waiting) == went + value_left(layers, "USD")
    assert not waiting or not sum(layer.left for layer in layers)


@given(
    receipts=st.lists(st.tuples(quantities, costs), min_size=1, max_size=5),
    steps=st.lists(quantities, min_size=1, max_size=8),
)
def test_the_cost_does_not_depend_on_the_steps_in_which_it_is_used(
    receipts: list[tuple[Decimal, Decimal]], steps: list[Decimal]
) -> None:
    layers = tuple(Layer(*receipt) for receipt in receipts)
    whole = sum(steps, D(0))
    if whole > sum(layer.left for layer in layers):
        layers += (Layer(whole, D("77.77")),)
    at_once, left_at_once = consume(layers, whole, currency="USD")
    spent = D(0)
    for step in steps:
        slices, layers = consume(layers, step, currency="USD")
        spent += cost(slices)
    assert spent == cost(at_once)
    assert layers == left_at_once
