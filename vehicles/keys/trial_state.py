"""Where the trying of candidates stands, as a value that can be kept and compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from .answers import Answer, proves
from .chains import BlankPlan
from .errors import KeysError
from .system import Bitting, KeySystem

Weight = int | float | Decimal | Fraction


@dataclass(frozen=True)
class Effort:
    """The time one try takes: `per_try` for trying, and `per_cut` for each cut made deeper.
    Any unit; the default counts tries."""

    per_try: Fraction = Fraction(1)
    per_cut: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if self.per_try <= 0 or self.per_cut < 0:
            raise KeysError("A try must take some time, and a cut cannot take less than none.")


@dataclass(frozen=True)
class Blank:
    """A trial blank in hand, numbered from 1, and what it is cut to by now."""

    number: int
    cut: Bitting
    is_discarded: bool = False


@dataclass(frozen=True)
class Try:
    """One try: which bitting, on which blank, what the blank was before (None: new)."""

    number: int
    bitting: Bitting
    blank: int
    cut_from: Bitting | None
    answer: Answer
    is_withdrawn: bool = False

    @property
    def words(self) -> str:
        return f"try {self.number} ({' '.join(self.bitting)}) {self.answer.words}"


@dataclass(frozen=True)
class Step:
    """One planned try. `chance` is that this candidate is the key; `is_new_blank` says that a
    new blank is taken for it, which then carries number `blank`."""

    bitting: Bitting
    blank: int
    is_new_blank: bool
    chance: Fraction


@dataclass(frozen=True)
class TrialState:
    """Where the trying stands: what is left, the blanks in hand, the plan from here."""

    system: KeySystem
    weights: Mapping[Bitting, Fraction]
    effort: Effort
    blanks: tuple[Blank, ...]
    tries: tuple[Try, ...]
    remaining: tuple[Bitting, ...]
    plan: BlankPlan = field(default_factory=lambda: BlankPlan((), ()))
    steps: tuple[Step, ...] = ()
    expected_effort: Fraction = Fraction(0)

    @property
    def found(self) -> Bitting | None:
        """The key, once an answer has proved it."""
        proof = (t for t in self.tries if not t.is_withdrawn and proves(self.system, t.answer))
        return next((attempt.bitting for attempt in proof), None)

    @property
    def next_step(self) -> Step | None:
        return self.steps[0] if self.steps else None

    @property
    def in_hand(self) -> tuple[Blank, ...]:
        """The blanks that can still be cut on."""
        return tuple(blank for blank in self.blanks if not blank.is_discarded)

    @property
    def new_blanks(self) -> int:
        """The fewest further trial blanks on which all that is left can be tried."""
        return self.plan.new_blanks

    @property
    def expected_tries(self) -> Fraction:
        """How many more tries until the key turns, on average."""
        return sum((step.chance * place for place, step in enumerate(self.steps, 1)), Fraction(0))

    @property
    def expected_tries_without_limit(self) -> Fraction:
        """The same if every candidate had a blank of its own: no order can be sooner."""
        chances = sorted((step.chance for step in self.steps), reverse=True)
        return sum((chance * place for place, chance in enumerate(chances, 1)), Fraction(0))

    def to_json(self) -> dict[str, Any]:
        """Plain data from which `trials_from_json` makes this state again."""
        return {
            "weights": [[list(bitting), str(weight)] for bitting, weight in self.weights.items()],
            "effort": [str(self.effort.per_try), str(self.effort.per_cut)],
            "blanks": [[blank.number, list(blank.cut), blank.is_discarded] for blank in self.blanks],
            "tries": [_try_to_json(attempt) for attempt in self.tries],
        }


def _try_to_json(attempt: Try) -> dict[str, Any]:
    return {
        "bitting": list(attempt.bitting),
        "blank": attempt.blank,
        "cut_from": attempt.cut_from and list(attempt.cut_from),
        "answer": attempt.answer.to_json(),
        "is_withdrawn": attempt.is_withdrawn,
    }


def state_from_json(system: KeySystem, data: Mapping[str, Any]) -> TrialState:
    """What `to_json` wrote, without its plan."""
    weights = {tuple(bitting): Fraction(weight) for bitting, weight in data["weights"]}
    tries = tuple(
        Try(
            number,
            tuple(entry["bitting"]),
            entry["blank"],
            tuple(entry["cut_from"]) if entry["cut_from"] else None,
            Answer.from_json(entry["answer"]),
            entry["is_withdrawn"],
        )
        for number, entry in enumerate(data["tries"], 1)
    )
    blanks = tuple(Blank(number, tuple(cut), discarded) for number, cut, discarded in data["blanks"])
    effort = Effort(*(Fraction(value) for value in data["effort"]))
    return TrialState(system, weights, effort, blanks, tries, tuple(weights))
