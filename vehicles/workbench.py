"""Decoding, missing cuts and trial plans for pages: what was typed in, views of the results out.

Plain functions on the key core, for the workbench and for the flow of a job. Nothing here reads or writes the database.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from vehicles.key_sheets.notation import read_length
from vehicles.keys import (
    BadLength,
    Bitting,
    Decoded,
    KeysError,
    KeySystem,
    TrialState,
    count_completions,
    decode,
    inch,
    iter_completions,
    mm,
    plan_trials,
)
from vehicles.keys.chains import Progress

AT_ONCE = 1_500
AT_MOST = 20_000
SHOWN_STEPS = 60


class BadEntry(KeysError):
    """Something typed at one cut that is no reading; `position` counts from 1."""

    def __init__(self, position: int, words: str) -> None:
        super().__init__(words)
        self.position = position


def readings_in_mm(texts: Sequence[str], unit: str) -> list[Decimal | None]:
    """Readings typed in mm, inches ("in") or thousandths of an inch ("thou"); empty ones or `?` were not taken.

    Raises BadEntry at the first that is no number.
    """
    return [_reading(position, text.strip(), unit) for position, text in enumerate(texts, 1)]


def _reading(position: int, text: str, unit: str) -> Decimal | None:
    if text in ("", "?", "-", "–"):
        return None
    try:
        value = mm(read_length(text))
    except BadLength as error:
        raise BadEntry(position, f"Cut {position}: {error}") from None
    if value <= 0:
        raise BadEntry(position, f"Cut {position}: a reading is the blade left at the cut, above 0.")
    return {"mm": value, "in": inch(value), "thou": inch(value) / 1000}[unit]


def known_cuts(system: KeySystem, texts: Sequence[str]) -> list[str | None]:
    """Labels typed cut by cut; empty or `?` is unknown. Raises BadEntry at the first that is no depth."""
    folded = {label.casefold(): label for label in system.labels}
    known: list[str | None] = []
    for position, text in enumerate(texts, 1):
        plain = text.strip()
        label = None if plain in ("", "?", "_", "*") else folded.get(plain.casefold())
        if label is None and plain not in ("", "?", "_", "*"):
            depths = ", ".join(system.labels)
            raise BadEntry(position, f"Cut {position}: {system.name} has no depth {plain}. Its depths are {depths}.")
        known.append(label)
    return known


@dataclass(frozen=True)
class DecodedView:
    """A decoding fit to show. `rows` hold the listed candidates with their share in percent; `next_cut` is the cut
    whose reading helps most and how many candidates it would leave on average."""

    decoded: Decoded
    rows: tuple[tuple[Bitting, str], ...]
    shallow: tuple[int, ...]

    @property
    def remaining(self) -> int:
        return self.decoded.remaining

    @property
    def best(self) -> Bitting | None:
        return self.decoded[0].bitting if len(self.decoded) else None

    @property
    def next_cut(self) -> tuple[int, str] | None:
        found = self.decoded.best_next_reading
        return (found.position, f"{found.expected_remaining:.1f}".removesuffix(".0")) if found else None

    @property
    def rate(self) -> str:
        """How often a decoding holds the true key, by the model of wear."""
        return f"{self.decoded.stated_rate * 100:.0f}"

    @property
    def cuts(self) -> list[dict[str, Any]]:
        """For each cut the depths its reading can mean, with their shares in percent and the errors in mm."""
        return [
            {
                "position": position,
                "choices": [(one.label, percent(one.share), _signed(one.error_mm)) for one in choices[:4]],
                "is_open": len(choices) > 1,
            }
            for position, choices in enumerate(self.decoded.choices, 1)
        ]


def decode_readings(
    system: KeySystem,
    readings_mm: Sequence[Decimal | None],
    *,
    tolerance_mm: Decimal | None = None,
    worn: bool = True,
    code_book: Iterable[Bitting] | None = None,
    shown: int = 24,
) -> DecodedView:
    """Readings to candidates. Raises UnitsDoubt (ask, then decode its `readings_mm`), BadReadings, BadBitting."""
    if not any(reading is not None for reading in readings_mm):
        raise KeysError("Give at least one reading.")
    found = decode(system, readings_mm, tolerance_mm, worn=worn, code_book=code_book)
    rows = tuple((one.bitting, percent(one.weight)) for one in found[:shown])
    pressed = tuple(place for place, each in enumerate(found.choices, 1) if each[0].error_mm and each[0].error_mm > 0)
    return DecodedView(found, rows, pressed)


def count_missing(system: KeySystem, known: Sequence[str | None], code_book: Iterable[Bitting] | None = None) -> int:
    """How many bittings have the known cuts and obey MACS, rules and code book."""
    return count_completions(system, known, code_book=code_book)


def list_missing(
    system: KeySystem, known: Sequence[str | None], code_book: Iterable[Bitting] | None = None
) -> list[Bitting]:
    """Those bittings. Raises KeysError when there are none or more than can be planned for."""
    count = count_missing(system, known, code_book)
    if not count:
        raise KeysError("No key has these cuts: MACS, a series rule or the code book rules all of them out.")
    if count > AT_MOST:
        raise KeysError(
            f"{count:,} keys fit, more than the {AT_MOST:,} that can be planned for. Read one more cut first."
        )
    if code_book is None:
        return list(iter_completions(system, known))
    return [each for each in sorted(code_book) if all(k in (None, cut) for k, cut in zip(known, each, strict=True))]


@dataclass(frozen=True)
class PlanStep:
    """One try: which blank, cut from what, and which cuts change. `chance` is in percent."""

    number: int
    bitting: Bitting
    blank: int
    is_new_blank: bool
    changed: tuple[int, ...]
    chance: str
    so_far: str

    @property
    def cells(self) -> list[tuple[str, bool]]:
        """Each label, and whether it is cut deeper now."""
        return [(label, place in self.changed) for place, label in enumerate(self.bitting, 1)]


@dataclass(frozen=True)
class PlanView:
    """A plan of trials fit to show and to keep as JSON."""

    count: int
    blanks: int
    proof: tuple[Bitting, ...]
    is_minimum: bool
    expected_tries: str
    at_best_tries: str
    can_recut: bool
    steps: tuple[PlanStep, ...]
    chains: tuple[tuple[Bitting, ...], ...]

    @property
    def first_steps(self) -> tuple[PlanStep, ...]:
        """As many tries as anybody will make before reading another cut."""
        return self.steps[:SHOWN_STEPS]

    def to_json(self) -> dict[str, Any]:
        return {
            "count": self.count,
            "blanks": self.blanks,
            "proof": [list(each) for each in self.proof],
            "is_minimum": self.is_minimum,
            "expected_tries": self.expected_tries,
            "at_best_tries": self.at_best_tries,
            "can_recut": self.can_recut,
            "steps": [
                {**vars(step), "bitting": list(step.bitting), "changed": list(step.changed)} for step in self.steps
            ],
            "chains": [[list(each) for each in chain] for chain in self.chains],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "PlanView":
        steps = tuple(
            PlanStep(**{**step, "bitting": tuple(step["bitting"]), "changed": tuple(step["changed"])})
            for step in data["steps"]
        )
        proof = tuple(tuple(each) for each in data["proof"])
        chains = tuple(tuple(tuple(each) for each in chain) for chain in data["chains"])
        return cls(**{**data, "steps": steps, "proof": proof, "chains": chains})


def make_plan(
    system: KeySystem,
    candidates: Sequence[Bitting],
    weights: Sequence[float] | None = None,
    *,
    progress: Progress | None = None,
) -> PlanView:
    """The fewest blanks for the candidates and the order of trying."""
    return view_plan(plan_trials(system, candidates, weights, progress=progress))


def view_plan(state: TrialState) -> PlanView:
    """Any state of trying as a view: the job's flow keeps the state and shows this."""
    return PlanView(
        count=len(state.remaining),
        blanks=state.new_blanks,
        proof=state.plan.incomparable,
        is_minimum=state.plan.is_minimum,
        expected_tries=f"{float(state.expected_tries):.1f}",
        at_best_tries=f"{float(state.expected_tries_without_limit):.1f}",
        can_recut=state.system.can_recut,
        steps=tuple(_steps(state)),
        chains=tuple(chain.bittings for chain in state.plan.chains),
    )


def _steps(state: TrialState) -> list[PlanStep]:
    cut_to: dict[int, Bitting] = {blank.number: blank.cut for blank in state.in_hand}
    so_far, shown = Fraction(0), []
    for number, step in enumerate(state.steps, 1):
        before = cut_to.get(step.blank)
        now = zip(before or (None,) * len(step.bitting), step.bitting, strict=True)
        changed = tuple(place for place, (old, new) in enumerate(now, 1) if old != new)
        cut_to[step.blank] = step.bitting
        so_far += step.chance
        chance, together = percent(float(step.chance)), percent(float(so_far))
        shown.append(PlanStep(number, step.bitting, step.blank, before is None, changed, chance, together))
    return shown


def percent(share: float) -> str:
    """`34`, `0.4`, `below 0.1`: percent without false digits."""
    value = share * 100
    if value >= 9.95:
        return f"{value:.0f}"
    return f"{value:.1f}" if value >= 0.05 else "below 0.1"


def _signed(error_mm: Decimal | None) -> str:
    return "" if error_mm is None else f"{error_mm:+.2f}".replace("-", "−")
