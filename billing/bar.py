"""The picture of a margin: a bar that starts at the price and loses each cost, down to what is left. Plain Python."""

from dataclasses import dataclass
from decimal import Decimal

from billing.margin import JobMargin

WIDTH = 1000
WORDS = (
    ("price", "Price charged"),
    ("parts", "Blanks and parts"),
    ("spoiled", "Spoiled blanks"),
    ("labour", "Labour"),
    ("travel", "Travel"),
    ("card_fees", "Card fees"),
)


@dataclass(frozen=True)
class Step:
    """One row: its words and amount, and where its bar begins and how wide it is, in parts of `WIDTH`."""

    name: str
    words: str
    amount: Decimal
    x: int
    width: int
    percent: Decimal | None

    @property
    def end(self) -> int:
        return self.x + self.width


@dataclass(frozen=True)
class Bar:
    """All rows, and where nothing lies: at the left, unless more was lost than the price."""

    steps: tuple[Step, ...]
    zero: int


def bar_of(margin: JobMargin) -> Bar:
    """The rows of a margin from the price to what is left."""
    low, high = min(margin.left, Decimal(0)), max(margin.price, margin.left, Decimal(0))
    scale = WIDTH / (high - low) if high > low else Decimal(0)

    def at(amount: Decimal) -> int:
        return round((amount - low) * scale)

    def step(name: str, words: str, amount: Decimal, start: Decimal, end: Decimal) -> Step:
        x, far = sorted((at(start), at(end)))
        share = amount * 100 / margin.price if margin.price else None
        return Step(name, words, amount, x, far - x, share)

    steps = [step("price", "Price charged", margin.price, Decimal(0), margin.price)]
    rest = margin.price
    for name, words in WORDS[1:]:
        cost: Decimal = getattr(margin, name)
        steps.append(step(name, words, cost, rest, rest - cost))
        rest -= cost
    steps.append(step("left", "Left", margin.left, Decimal(0), margin.left))
    return Bar(tuple(steps), at(Decimal(0)))
