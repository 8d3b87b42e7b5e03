"""Two versions of a procedure side by side: which steps stayed, came, went or changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import zip_longest

from vehicles.procedure_content import Content, StepContent, plain, step_lines

SAME, CHANGED, ADDED, REMOVED = "same", "changed", "added", "removed"
# Two steps less alike than this are one removed and one added, not one changed.
ALIKE = 0.5


@dataclass(frozen=True)
class Side:
    """A step with its number, and its lines of words."""

    number: int
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Pair:
    """What stood (left) and what stands (right); `state` in words."""

    state: str
    left: Side | None
    right: Side | None


@dataclass(frozen=True)
class FactPair:
    """A fact of the version that changed."""

    name: str
    left: str
    right: str


@dataclass(frozen=True)
class Difference:
    facts: tuple[FactPair, ...]
    steps: tuple[Pair, ...]

    @property
    def is_none(self) -> bool:
        return not self.facts and all(pair.state == SAME for pair in self.steps)

    @property
    def counts(self) -> dict[str, int]:
        """How many steps were changed, added and removed."""
        return {state: sum(pair.state == state for pair in self.steps) for state in (CHANGED, ADDED, REMOVED)}


def difference(old: Content, new: Content) -> Difference:
    """What is different between two versions."""
    return Difference(tuple(_facts(old, new)), tuple(_steps(old.steps, new.steps)))


def _facts(old: Content, new: Content) -> list[FactPair]:
    told = [(_facts_of(old)[name], words, name) for name, words in _facts_of(new).items()]
    return [FactPair(name, left, right) for left, right, name in told if left != right]


def _facts_of(content: Content) -> dict[str, str]:
    return {
        "Supply at least": f"{plain(content.low_volts)} V" if content.low_volts is not None else "",
        "Supply at most": f"{plain(content.high_volts)} V" if content.high_volts is not None else "",
        "Equipment": ", ".join(content.equipment),
        "Source": content.source,
        "Proved by": content.proved_by,
    }


def _steps(old: Sequence[StepContent], new: Sequence[StepContent]) -> list[Pair]:
    left = [Side(number, step_lines(step)) for number, step in enumerate(old, 1)]
    right = [Side(number, step_lines(step)) for number, step in enumerate(new, 1)]
    matcher = SequenceMatcher(None, [side.lines for side in left], [side.lines for side in right], autojunk=False)
    pairs: list[Pair] = []
    for act, from_, to, new_from, new_to in matcher.get_opcodes():
        if act == "equal":
            pairs += [Pair(SAME, *both) for both in zip(left[from_:to], right[new_from:new_to], strict=True)]
        else:
            pairs += _replaced(left[from_:to], right[new_from:new_to])
    return pairs


def _replaced(left: Sequence[Side], right: Sequence[Side]) -> list[Pair]:
    """Steps in the same place: alike ones are one changed step, others went and came."""
    pairs: list[Pair] = []
    for old, new in zip_longest(left, right):
        if old and new and _are_alike(old, new):
            pairs.append(Pair(CHANGED, old, new))
            continue
        if old:
            pairs.append(Pair(REMOVED, old, None))
        if new:
            pairs.append(Pair(ADDED, None, new))
    return pairs


def _are_alike(old: Side, new: Side) -> bool:
    return SequenceMatcher(None, " ".join(old.lines), " ".join(new.lines), autojunk=False).ratio() >= ALIKE
