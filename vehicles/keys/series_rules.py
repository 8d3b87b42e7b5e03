"""The rules themselves. MACS is one of them, switched on by the system's own field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import ClassVar

from .depths import Depth
from .errors import BadRule
from .rules import Rule, Spot, State, Violation, catalogued, need_known, need_whole, take_labels


@dataclass(frozen=True)
class Macs(Rule):
    """Neighbouring depth numbers differ by at most `limit`; edges do not adjoin."""

    limit: int
    name: ClassVar[str] = "macs"

    def start(self) -> State:
        return ""

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        if not spot.starts_edge and isinstance(state, int) and abs(depth.number - state) > self.limit:
            return None
        return depth.number

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        found = []
        for (spot, cut), (after, deeper) in pairwise(zip(spots, cuts, strict=True)):
            step = abs(deeper.number - cut.number)
            if not after.starts_edge and step > self.limit:
                words = (
                    f"{spot.words.capitalize()} and {after.words}: {cut.label} beside {deeper.label} is a step "
                    f"of {step}; MACS allows {self.limit}."
                )
                found.append(self._violation([spot, after], words))
        return found


@dataclass(frozen=True)
class _SumParity(Rule):
    odd: ClassVar[bool] = False

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        parity = (int(state == 1) + depth.number) % 2
        return None if spot.is_last and parity != self.odd else parity

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        total = sum(cut.number for cut in cuts)
        if total % 2 == self.odd:
            return []
        wanted = "odd" if self.odd else "even"
        return [self._violation(spots, f"The depths add up to {total}; this series needs an {wanted} sum.")]


@catalogued
@dataclass(frozen=True)
class EvenSum(_SumParity):
    """The depth numbers add up to an even number."""

    name: ClassVar[str] = "even_sum"


@catalogued
@dataclass(frozen=True)
class OddSum(_SumParity):
    """The depth numbers add up to an odd number."""

    name: ClassVar[str] = "odd_sum"
    odd: ClassVar[bool] = True


@catalogued
@dataclass(frozen=True)
class SumBetween(Rule):
    """The depth numbers add up to `low` at least and `high` at most."""

    low: int
    high: int
    name: ClassVar[str] = "sum_between"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        for value in (self.low, self.high):
            if isinstance(value, bool) or not isinstance(value, int):
                raise BadRule(f"Rule {self.name}: low and high must be whole numbers.")
        if self.low > self.high:
            raise BadRule(f"Rule {self.name}: low is above high.")

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        total = (state if isinstance(state, int) else 0) + depth.number
        return None if spot.is_last and not self.low <= total <= self.high else total

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        total = sum(cut.number for cut in cuts)
        if self.low <= total <= self.high:
            return []
        words = f"The depths add up to {total}; this series needs {self.low} to {self.high}."
        return [self._violation(spots, words)]


@catalogued
@dataclass(frozen=True)
class MaxEqualRun(Rule):
    """At most `n` equal depths in a row on one edge."""

    n: int
    name: ClassVar[str] = "max_equal_run"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_whole(self, "n", 1)

    def start(self) -> State:
        return ("", 0)

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        label, run = state if isinstance(state, tuple) else ("", 0)
        run = run + 1 if depth.label == label and not spot.starts_edge else 1
        return None if run > self.n else (depth.label, run)

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        found = []
        for (_, label), group in groupby(zip(spots, cuts, strict=True), key=lambda pair: (pair[0].edge, pair[1].label)):
            run = [spot for spot, _ in group]
            if len(run) > self.n:
                words = (
                    f"{run[0].words.capitalize()} to {run[-1].words}: {len(run)} times {label} in a row; "
                    f"this series allows {self.n}."
                )
                found.append(self._violation(run, words))
        return found


@catalogued
@dataclass(frozen=True)
class MaxOfDepth(Rule):
    """Depth `label` is used at most `n` times on the key."""

    label: str
    n: int
    name: ClassVar[str] = "max_of_depth"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_whole(self, "n", 0)
        need_known(self, [self.label], depths)

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        used = (state if isinstance(state, int) else 0) + (depth.label == self.label)
        return None if used > self.n else used

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        where = [spot for spot, cut in zip(spots, cuts, strict=True) if cut.label == self.label]
        if len(where) <= self.n:
            return []
        words = f"Depth {self.label} is used {len(where)} times; this series allows {self.n}."
        return [self._violation(where, words)]


@dataclass(frozen=True)
class _Forbidden(Rule):
    """Base of rules that forbid labels at one place."""

    labels: tuple[str, ...]

    def __post_init__(self) -> None:
        take_labels(self, "labels", self.labels)

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_known(self, self.labels, depths)

    def applies(self, spot: Spot) -> bool:
        raise NotImplementedError

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        return None if self.applies(spot) and depth.label in self.labels else 0

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        return [
            self._violation([spot], f"{spot.words.capitalize()} cannot be {cut.label} in this series.")
            for spot, cut in zip(spots, cuts, strict=True)
            if self.applies(spot) and cut.label in self.labels
        ]


@catalogued
@dataclass(frozen=True)
class ForbiddenFirst(_Forbidden):
    """The first cut is none of `labels`."""

    name: ClassVar[str] = "forbidden_first"

    def applies(self, spot: Spot) -> bool:
        return spot.position == 1


@catalogued
@dataclass(frozen=True)
class ForbiddenLast(_Forbidden):
    """The last cut is none of `labels`."""

    name: ClassVar[str] = "forbidden_last"

    def applies(self, spot: Spot) -> bool:
        return spot.is_last


@catalogued
@dataclass(frozen=True)
class ForbiddenAt(_Forbidden):
    """The cut at `position` (from 1) is none of `labels`."""

    position: int
    name: ClassVar[str] = "forbidden_at"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        super().check(depths, spots)
        need_whole(self, "position", 1)
        if self.position > len(spots):
            raise BadRule(f"Rule {self.name}: there is no cut {self.position}.")

    def applies(self, spot: Spot) -> bool:
        return spot.position == self.position


@catalogued
@dataclass(frozen=True)
class ForbiddenNeighbours(Rule):
    """None of `pairs` of labels stands side by side, in either order, on one edge."""

    pairs: tuple[tuple[str, str], ...]
    name: ClassVar[str] = "forbidden_neighbours"

    def __post_init__(self) -> None:
        if isinstance(self.pairs, str) or not isinstance(self.pairs, Sequence) or not self.pairs:
            raise BadRule(f"Rule {self.name}: pairs must be a list of pairs of depth labels.")
        if any(isinstance(pair, str) or len(pair) != 2 for pair in self.pairs):
            raise BadRule(f"Rule {self.name}: each pair must be two depth labels.")
        object.__setattr__(self, "pairs", tuple((str(one), str(two)) for one, two in self.pairs))

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_known(self, [label for pair in self.pairs for label in pair], depths)

    def start(self) -> State:
        return ""

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        return None if not spot.starts_edge and self._clash(str(state), depth.label) else depth.label

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        return [
            self._violation(
                [spot, after],
                f"{spot.words.capitalize()} and {after.words}: {cut.label} and {other.label} "
                "cannot stand side by side in this series.",
            )
            for (spot, cut), (after, other) in pairwise(zip(spots, cuts, strict=True))
            if not after.starts_edge and self._clash(cut.label, other.label)
        ]

    def _clash(self, one: str, two: str) -> bool:
        return (one, two) in self.pairs or (two, one) in self.pairs


@catalogued
@dataclass(frozen=True)
class MinDifferent(Rule):
    """The key uses at least `n` different depths."""

    n: int
    name: ClassVar[str] = "min_different"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_whole(self, "n", 1)
        if self.n > min(len(depths), len(spots)):
            raise BadRule(f"Rule {self.name}: no key of this system can have {self.n} different depths.")

    def start(self) -> State:
        return frozenset()

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        # Once enough depths are seen it no longer matters which; one state stands for all.
        if not isinstance(state, frozenset):
            return True
        seen = state | {depth.number}
        if len(seen) >= self.n:
            return True
        return None if spot.is_last else seen

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        used = len({cut.label for cut in cuts})
        if used >= self.n:
            return []
        words = f"The key uses {used} different {'depth' if used == 1 else 'depths'}; this series needs {self.n}."
        return [self._violation(spots, words)]


@catalogued
@dataclass(frozen=True)
class MinSpread(Rule):
    """The highest and the lowest depth number on the key are at least `n` apart."""

    n: int
    name: ClassVar[str] = "min_spread"

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        need_whole(self, "n", 1)
        if self.n > depths[-1].number - depths[0].number:
            raise BadRule(f"Rule {self.name}: the depths of this system are never {self.n} apart.")

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        if state is True:
            return True
        low, high = state if isinstance(state, tuple) else (depth.number, depth.number)
        low, high = min(low, depth.number), max(high, depth.number)
        if high - low >= self.n:
            return True
        return None if spot.is_last else (low, high)

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        spread = max(cut.number for cut in cuts) - min(cut.number for cut in cuts)
        if spread >= self.n:
            return []
        words = f"Deepest and shallowest number are {spread} apart; this series needs {self.n}."
        return [self._violation(spots, words)]
