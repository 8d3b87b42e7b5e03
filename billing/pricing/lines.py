"""The lines of a price."""

from dataclasses import dataclass
from decimal import Decimal

from shop.errors import Refused
from shop.money import quantize

KINDS = frozenset(
    {"call_out", "labour", "item", "programming", "after_hours", "discount", "credit", "other"},
)
# Only these may take money off; anything else below nothing is a slip of the hand.
_TAKES_OFF = frozenset({"discount", "credit"})


class PricingError(Refused, ValueError):
    """A price that cannot be worked out; the words are fit to show."""


@dataclass(frozen=True)
class PriceLine:
    """One line: ``quantity`` of something at ``unit_price`` for each ``base_quantity`` of it, net of tax.

    ``unit_price`` may be finer than the currency's minor unit; only the amount of the line is rounded. A
    ``discount`` or ``credit`` line takes money off by a quantity or a price below nothing, never both; its amount
    is never above nothing. ``reason`` is the short explanation shown beside the line. Raises ``PricingError``.
    """

    kind: str
    text: str
    quantity: Decimal
    unit_price: Decimal
    tax_class: str
    reason: str = ""
    base_quantity: Decimal = Decimal(1)

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise PricingError(f"“{self.kind}” is no kind of price line.")
        if not all(figure.is_finite() for figure in (self.quantity, self.unit_price, self.base_quantity)):
            raise PricingError(f"{self._name}: a figure is missing.")
        if self.base_quantity <= 0:
            raise PricingError(f"{self._name}: the price must be for more than nothing.")
        if self.kind in _TAKES_OFF:
            self._check_that_it_takes_off()
        elif self.quantity < 0:
            raise PricingError(f"{self._name}: the quantity must not be below nothing.")
        elif self.unit_price < 0:
            raise PricingError(f"{self._name}: the price must not be below nothing.")

    def _check_that_it_takes_off(self) -> None:
        if self.quantity * self.unit_price > 0 or (self.quantity < 0 and self.unit_price < 0):
            raise PricingError(f"{self._name}: a {self.kind} takes money off, so its price is below nothing.")

    @property
    def _name(self) -> str:
        return self.text or self.kind


def line_amount(line: PriceLine, currency: str) -> Decimal:
    """Net amount of a line: quantity x unit price / base quantity, rounded half-up once, at the end.

    EN 16931-1 BT-131 (invoice line net amount), with BT-149 as the base quantity of the price.
    """
    return quantize(line.quantity * line.unit_price / line.base_quantity, currency)
