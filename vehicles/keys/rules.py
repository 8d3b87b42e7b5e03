"""Rules a series of keys obeys, each a small automaton that reads a bitting cut by cut.

A rule has a `start` state and a `step`; `step` gives the next state, or None when no
bitting can be right any more. Whole-bitting rules (a sum, a number of different depths)
give None at the last cut when they are not met, so that following a bitting to its end
is the whole test. States are hashable and few: that is what lets counting stay a
recurrence over (place, state) with any mixture of rules.

Every rule is written to JSON as {"rule": name, ...parameters} and read back with
`rule_from_json`.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any, ClassVar

from .depths import Depth
from .errors import BadRule

State = Hashable


@dataclass(frozen=True, slots=True)
class Spot:
    """One place in a bitting: its position from 1, its edge and the cut on that edge from 1."""

    position: int
    edge: int
    cut: int
    starts_edge: bool
    is_last: bool
    edges: int = 1

    @property
    def words(self) -> str:
        return f"cut {self.position}" if self.edges == 1 else f"edge {self.edge} cut {self.cut}"


@dataclass(frozen=True)
class Violation:
    """What is wrong with a bitting and where. `positions` are all the cuts concerned,
    from 1, and `position` the first of them; `words` are fit to show."""

    rule: str
    positions: tuple[int, ...]
    words: str

    @property
    def position(self) -> int:
        return self.positions[0]

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True)
class Rule:
    """Base of all rules. A rule that concerns the whole key says so with `about_whole`."""

    name: ClassVar[str] = ""

    def check(self, depths: Sequence[Depth], spots: Sequence[Spot]) -> None:
        """Raise BadRule when the parameters do not fit a system of these depths and places."""

    def start(self) -> State:
        return 0

    def step(self, state: State, spot: Spot, depth: Depth) -> State | None:
        """The state after this cut, or None when the rule is broken."""
        raise NotImplementedError

    def broken(self, spots: Sequence[Spot], cuts: Sequence[Depth]) -> list[Violation]:
        """Every place where the bitting breaks the rule, in order."""
        raise NotImplementedError

    def to_json(self) -> dict[str, Any]:
        return {"rule": self.name, **{key: _plain(value) for key, value in asdict(self).items()}}

    def _violation(self, spots: Sequence[Spot], words: str) -> Violation:
        return Violation(self.name, tuple(spot.position for spot in spots), words)


def _plain(value: Any) -> Any:
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value


def need_whole(rule: Rule, field: str, least: int) -> None:
    value = getattr(rule, field)
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise BadRule(f"Rule {rule.name}: {field} must be a whole number of at least {least}, not {value!r}.")


def take_labels(rule: Rule, field: str, values: object) -> None:
    if isinstance(values, str) or not isinstance(values, Sequence) or not values:
        raise BadRule(f"Rule {rule.name}: {field} must be a list of depth labels.")
    object.__setattr__(rule, field, tuple(str(value) for value in values))


def need_known(rule: Rule, labels: Sequence[str], depths: Sequence[Depth]) -> None:
    for label in labels:
        if label not in {depth.label for depth in depths}:
            raise BadRule(f"Rule {rule.name} names depth {label}, which this key system does not have.")


_CATALOGUE: dict[str, type[Rule]] = {}


def catalogued(kind: type[Rule]) -> type[Rule]:
    """Make a rule readable from JSON by its name."""
    _CATALOGUE[kind.name] = kind
    return kind


def rule_names() -> tuple[str, ...]:
    """The names of all rules that can be read from JSON."""
    return tuple(_CATALOGUE)


def rule_from_json(data: Mapping[str, Any] | Rule) -> Rule:
    """The rule written as {"rule": name, ...}. Raises BadRule with the names or parameters
    that would have been right."""
    if isinstance(data, Rule):
        return data
    if not isinstance(data, Mapping) or data.get("rule") not in _CATALOGUE:
        raise BadRule(f"There is no such rule: {data!r}. Known rules: {', '.join(_CATALOGUE)}.")
    kind = _CATALOGUE[data["rule"]]
    given = {key: value for key, value in data.items() if key != "rule"}
    wanted = {field.name for field in fields(kind)}
    if set(given) != wanted:
        needs = ", ".join(sorted(wanted)) or "no parameters"
        raise BadRule(f"Rule {kind.name} takes {needs}.")
    return kind(**given)
