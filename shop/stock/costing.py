"""What stock cost: first in, first out, by layers.

A layer is one receipt of one item at one place: so many, for so much altogether. Keeping the sum instead of a unit
cost means nothing is lost to rounding: 300 for 830.00 is a layer, 2.7666... each is not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from shop.errors import Refused
from shop.money import quantize

# Without a currency, costs keep this many decimals: enough to compare, few enough to stay exact under addition.
_FINE = Decimal("1e-10")


class CostingError(Refused, ValueError):
    """A quantity or a cost that cannot be; the words are fit to show."""


@dataclass(frozen=True)
class Layer:
    """``quantity`` received for ``cost`` altogether, of which ``taken`` is used up already.

    ``key`` is whatever names the receipt to the caller. Raises ``CostingError`` for figures below nothing.
    """

    quantity: Decimal
    cost: Decimal
    key: str = ""
    taken: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.quantity <= 0:
            raise CostingError("A receipt is of more than nothing.")
        if self.cost < 0:
            raise CostingError("A cost must not be below nothing.")
        if not 0 <= self.taken <= self.quantity:
            raise CostingError("No more can be taken from a receipt than came in.")

    @property
    def left(self) -> Decimal:
        """Quantity not used yet."""
        return self.quantity - self.taken


@dataclass(frozen=True)
class Slice:
    """``quantity`` used, and its ``cost``: out of the layer ``key``, or ``is_beyond`` all that the books hold.

    A slice beyond the books is costed at the last known cost and waits for a receipt (see ``true_up``).
    """

    quantity: Decimal
    cost: Decimal
    key: str = ""
    is_beyond: bool = False


def value_left(layers: Iterable[Layer], currency: str | None = None) -> Decimal:
    """Cost of all that is left in ``layers``."""
    return sum((layer.cost - _cost_of_first(layer, layer.taken, currency) for layer in layers), Decimal(0))


def consume(
    layers: Sequence[Layer], quantity: Decimal, *, currency: str | None = None
) -> tuple[tuple[Slice, ...], tuple[Layer, ...]]:
    """Use ``quantity`` from ``layers``, oldest first: the slices used and the layers left.

    The cost of a slice is the rounded cost of all taken from its layer so far, less the same before it. So in
    whatever steps a layer is used up, no step is a minor unit off and together they cost what was paid. The
    newest layer is kept even when it is empty, because use beyond the books is costed like its last unit (at
    nothing if there never was a layer). Raises ``CostingError`` for a quantity not above nothing.
    """
    _check_quantity(quantity)
    slices: list[Slice] = []
    left = list(layers)
    for i, layer in enumerate(layers):
        used = min(layer.left, quantity)
        if used:
            left[i] = replace(layer, taken=layer.taken + used)
            slices.append(Slice(used, _step(layer, left[i], currency), layer.key))
            quantity -= used
        if not quantity:
            break
    if quantity:
        slices.append(Slice(quantity, _at_last_cost(layers, quantity, currency), is_beyond=True))
    return tuple(slices), tuple(layer for layer in left[:-1] if layer.left) + tuple(left[-1:])


def true_up(
    waiting: Sequence[Slice], layers: Sequence[Layer], *, currency: str | None = None
) -> tuple[Decimal, tuple[Slice, ...], tuple[Layer, ...]]:
    """Serve slices that went beyond the books out of what has come in since.

    Returns the correction to the cost of their use (above nothing when it was dearer than thought), the slices
    that still wait, and the layers left.
    """
    correction = Decimal(0)
    still: list[Slice] = []
    for beyond in waiting:
        served = min(beyond.quantity, sum((layer.left for layer in layers), Decimal(0)))
        if served:
            slices, layers = consume(layers, served, currency=currency)
            believed = _round(beyond.cost * served / beyond.quantity, currency)
            correction += sum((each.cost for each in slices), Decimal(0)) - believed
            beyond = replace(beyond, quantity=beyond.quantity - served, cost=beyond.cost - believed)
        if beyond.quantity:
            still.append(beyond)
    return correction, tuple(still), tuple(layers)


def average_cost(layers: Sequence[Layer], quantity: Decimal, *, currency: str | None = None) -> Decimal:
    """Cost of ``quantity`` at the weighted average of what is left in ``layers``, to compare with first in, first out.

    Raises ``CostingError`` when the layers do not hold that much.
    """
    _check_quantity(quantity)
    held = sum((layer.left for layer in layers), Decimal(0))
    if quantity > held:
        raise CostingError(f"Only {held:f} are left.")
    return _round(value_left(layers, currency) * quantity / held, currency)


def _check_quantity(quantity: Decimal) -> None:
    if not quantity.is_finite() or quantity <= 0:
        raise CostingError("The quantity must be above nothing.")


def _cost_of_first(layer: Layer, quantity: Decimal, currency: str | None) -> Decimal:
    """Cost of the first ``quantity`` of a layer; the last of it takes what rounding left, so that all is spent."""
    if quantity == layer.quantity:
        return layer.cost
    return _round(layer.cost * quantity / layer.quantity, currency)


def _step(before: Layer, after: Layer, currency: str | None) -> Decimal:
    return _cost_of_first(after, after.taken, currency) - _cost_of_first(before, before.taken, currency)


def _at_last_cost(layers: Sequence[Layer], quantity: Decimal, currency: str | None) -> Decimal:
    if not layers:
        return _round(Decimal(0), currency)
    return _round(layers[-1].cost * quantity / layers[-1].quantity, currency)


def _round(cost: Decimal, currency: str | None) -> Decimal:
    return cost.quantize(_FINE, rounding=ROUND_HALF_UP) if currency is None else quantize(cost, currency)
