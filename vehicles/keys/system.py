"""The key system: the dimensions one family of locks shares."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from itertools import pairwise
from typing import Any, TypeVar

from .depths import Depth, read_depths
from .errors import BadLength, BadRule, ImpossibleSystem
from .rules import Rule, Spot, rule_from_json
from .series_rules import Macs
from .units import Length, inch, mm

Bitting = tuple[str, ...]
Choice = TypeVar("Choice", bound=StrEnum)


class Stop(StrEnum):
    """What the cut positions are measured from."""

    SHOULDER = "shoulder"
    TIP = "tip"


class Reading(StrEnum):
    """The direction in which the cuts of a bitting are named."""

    BOW_TO_TIP = "bow to tip"
    TIP_TO_BOW = "tip to bow"


class Layout(StrEnum):
    """How a bitting lies on the blade.

    Two mirrored edges carry the same bitting twice; two independent edges carry two,
    one after the other in the bitting. A track is milled into the face of the blade:
    an external one stands on an edge, an internal one is a groove. Root depths of all
    layouts are the blade left between the cut and the far edge, so that a smaller root
    depth always means more metal gone.
    """

    ONE_EDGE = "one edge"
    MIRRORED = "two mirrored edges"
    INDEPENDENT = "two independent edges"
    EXTERNAL_TRACK = "external track"
    INTERNAL_TRACK = "internal track"


@dataclass(frozen=True, init=False, eq=False)
class KeySystem:
    """Cut positions, labelled depths, MACS and series rules, all lengths in mm.

    `positions_mm` are distances from the `stop`, strictly increasing, on one edge.
    `root_depths_mm` maps each label to the blade left at such a cut, strictly rising or
    falling with the label: whole-number labels count by their value, others by the
    order given. `macs` is the largest step between neighbouring depth numbers, None for
    no limit. `rules` are series rules or their JSON form.

    `reads` is the direction of a bitting; left out, it runs away from the stop.
    `second_edge_mm` gives the positions of the second edge when two edges are
    independent and spaced differently. `locks` maps a lock of the car to the positions
    (from 1) it reads. `can_recut` is False when a finished cut cannot be made deeper
    (a groove that is read on both walls): then every trial needs its own blank.

    Raises ImpossibleSystem or BadRule with words fit to show.
    """

    name: str
    positions_mm: tuple[Decimal, ...]
    root_depths_mm: dict[str, Decimal]
    macs: int | None
    stop: Stop
    rules: tuple[Rule, ...]
    reads: Reading
    layout: Layout
    second_edge_mm: tuple[Decimal, ...]
    locks: dict[str, tuple[int, ...]]
    flat_mm: Decimal | None
    angle_deg: Decimal | None
    blade_height_mm: Decimal | None
    blade_length_mm: Decimal | None
    unit: str
    can_recut: bool
    depths: tuple[Depth, ...] = field(repr=False)

    def __init__(
        self,
        *,
        name: str,
        positions_mm: Sequence[Length],
        root_depths_mm: Mapping[str, Length],
        macs: int | None = None,
        stop: str = "shoulder",
        rules: Iterable[Rule | Mapping[str, Any]] | None = (),
        reads: str | None = None,
        layout: str = "one edge",
        second_edge_mm: Sequence[Length] | None = None,
        locks: Mapping[str, Iterable[int]] | None = None,
        flat_mm: Length | None = None,
        angle_deg: Length | None = None,
        blade_height_mm: Length | None = None,
        blade_length_mm: Length | None = None,
        unit: str = "mm",
        can_recut: bool = True,
    ) -> None:
        depths = read_depths(root_depths_mm)
        self._set(
            name=name,
            depths=depths,
            root_depths_mm={depth.label: depth.root_mm for depth in depths},
            macs=_macs(macs),
            stop=_one_of(Stop, "stop", stop),
            layout=_one_of(Layout, "layout", layout),
            flat_mm=_size("flat_mm", "The cut flat", flat_mm),
            angle_deg=_angle(angle_deg),
            blade_height_mm=_size("blade_height_mm", "The blade height", blade_height_mm),
            blade_length_mm=_size("blade_length_mm", "The blade length", blade_length_mm),
            unit=_unit(unit),
            can_recut=can_recut,
            positions_mm=_positions("positions_mm", positions_mm),
        )
        away = Reading.BOW_TO_TIP if self.stop == Stop.SHOULDER else Reading.TIP_TO_BOW
        self._set(reads=away if reads is None else _one_of(Reading, "reads", reads))
        self._set(second_edge_mm=self._second_edge(second_edge_mm))
        self._check_blade()
        self._set(locks=self._read_locks(locks or {}))
        self._set(rules=tuple(rule_from_json(rule) for rule in rules or ()))
        for rule in self.rules:
            if isinstance(rule, Macs):
                raise BadRule("MACS is a field of the key system, not one of its series rules.")
            rule.check(self.depths, self.spots)

    @classmethod
    def from_inches(
        cls, *, positions_in: Sequence[Length], root_depths_in: Mapping[str, Length], **rest: Any
    ) -> KeySystem:
        """A system whose positions and root depths are given in inches; every other
        keyword is as for the class (flat and blade in mm: use `inch`)."""
        return cls(
            positions_mm=[inch(value) for value in positions_in],
            root_depths_mm={label: inch(value) for label, value in root_depths_in.items()},
            unit="in",
            **rest,
        )

    def _set(self, **values: object) -> None:
        for key, value in values.items():
            object.__setattr__(self, key, value)

    def _second_edge(self, given: Sequence[Length] | None) -> tuple[Decimal, ...]:
        if self.layout != Layout.INDEPENDENT:
            if given:
                raise ImpossibleSystem("second_edge_mm", "Only independent edges have cuts of their own.")
            return ()
        return _positions("second_edge_mm", given) if given else self.positions_mm

    def _check_blade(self) -> None:
        furthest = max((*self.positions_mm, *self.second_edge_mm))
        if self.blade_length_mm is not None and furthest > self.blade_length_mm:
            words = f"A cut at {furthest} mm lies beyond the blade, which is {self.blade_length_mm} mm long."
            raise ImpossibleSystem("positions_mm", words)
        shallowest = max(self.depths, key=lambda depth: depth.root_mm)
        if self.blade_height_mm is not None and shallowest.root_mm > self.blade_height_mm:
            words = (
                f"Depth {shallowest.label} leaves {shallowest.root_mm} mm, more than the blade's height "
                f"of {self.blade_height_mm} mm."
            )
            raise ImpossibleSystem("root_depths_mm", words)

    def _read_locks(self, locks: Mapping[str, Iterable[int]]) -> dict[str, tuple[int, ...]]:
        read = {}
        for lock, positions in locks.items():
            places = tuple(sorted(set(positions)))
            if not places or places[0] < 1 or places[-1] > self.cuts:
                raise ImpossibleSystem("locks", f"The {lock} must read cuts between 1 and {self.cuts}.")
            read[str(lock)] = places
        return read

    @property
    def cuts(self) -> int:
        """How many labels a bitting has, over all independent edges."""
        return len(self.positions_mm) + len(self.second_edge_mm)

    @property
    def labels(self) -> tuple[str, ...]:
        return tuple(depth.label for depth in self.depths)

    @cached_property
    def by_label(self) -> dict[str, Depth]:
        return {depth.label: depth for depth in self.depths}

    @cached_property
    def smallest_step_mm(self) -> Decimal | None:
        """The smallest difference between two root depths; None with a single depth."""
        roots = sorted(depth.root_mm for depth in self.depths)
        return min((high - low for low, high in pairwise(roots)), default=None)

    @cached_property
    def constraints(self) -> tuple[Rule, ...]:
        """MACS, if any, and the series rules: all that a bitting must obey."""
        return (() if self.macs is None else (Macs(self.macs),)) + self.rules

    @cached_property
    def spots(self) -> tuple[Spot, ...]:
        """The places of a bitting in reading order."""
        sizes = [len(edge) for edge in (self.positions_mm, self.second_edge_mm) if edge]
        places = [(edge, cut) for edge, size in enumerate(sizes, 1) for cut in range(1, size + 1)]
        return tuple(
            Spot(position, edge, cut, cut == 1, position == len(places), len(sizes))
            for position, (edge, cut) in enumerate(places, 1)
        )

    @cached_property
    def distances_mm(self) -> tuple[Decimal, ...]:
        """For each place of a bitting, in reading order, its distance from the stop."""
        outward = (self.stop == Stop.SHOULDER) == (self.reads == Reading.BOW_TO_TIP)
        edges = (self.positions_mm, self.second_edge_mm)
        return tuple(place for edge in edges for place in (edge if outward else reversed(edge)))

    def to_json(self) -> dict[str, Any]:
        """Plain data that `from_json` reads back to an equal system. Depths are a list of
        pairs because their order counts and JSON stores do not always keep it."""
        return {
            "name": self.name,
            "positions_mm": [str(value) for value in self.positions_mm],
            "root_depths_mm": [[depth.label, str(depth.root_mm)] for depth in self.depths],
            "macs": self.macs,
            "stop": str(self.stop),
            "rules": [rule.to_json() for rule in self.rules],
            "reads": str(self.reads),
            "layout": str(self.layout),
            "second_edge_mm": [str(value) for value in self.second_edge_mm] or None,
            "locks": {lock: list(places) for lock, places in self.locks.items()},
            **{key: _text(getattr(self, key)) for key in _SIZES},
            "unit": self.unit,
            "can_recut": self.can_recut,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> KeySystem:
        """The system written by `to_json`."""
        return cls(**{**data, "root_depths_mm": dict(data["root_depths_mm"])})

    def __eq__(self, other: object) -> bool:
        return isinstance(other, KeySystem) and self.to_json() == other.to_json()

    def __hash__(self) -> int:
        return hash((self.name, self.positions_mm, self.labels, self.macs))


_SIZES = ("flat_mm", "angle_deg", "blade_height_mm", "blade_length_mm")


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _one_of(kind: type[Choice], field: str, value: str) -> Choice:
    try:
        return kind(value)
    except ValueError:
        raise ImpossibleSystem(field, f"{field} must be {' or '.join(kind)}, not {value!r}.") from None


def _macs(value: int | None) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise ImpossibleSystem("macs", f"MACS must be a whole number or left empty, not {value!r}.")
    if value < 1:
        words = f"MACS {value} would make every cut the same. Leave it empty when there is no limit."
        raise ImpossibleSystem("macs", words)
    return value


def _positions(field: str, values: Sequence[Length]) -> tuple[Decimal, ...]:
    try:
        places = tuple(mm(value) for value in values)
    except BadLength as error:
        raise ImpossibleSystem(field, f"Cut positions: {error}") from None
    if not places:
        raise ImpossibleSystem(field, "Give at least one cut position.")
    if places[0] < 0:
        raise ImpossibleSystem(field, f"Cut 1 lies at {places[0]} mm, on the wrong side of the stop.")
    for number, (first, second) in enumerate(pairwise(places), start=2):
        if second <= first:
            words = (
                f"Positions must increase from the stop: position {number} is {second} mm, "
                f"position {number - 1} is {first} mm."
            )
            raise ImpossibleSystem(field, words)
    return places


def _size(field: str, what: str, value: Length | None) -> Decimal | None:
    if value is None:
        return None
    try:
        size = mm(value)
    except BadLength as error:
        raise ImpossibleSystem(field, f"{what}: {error}") from None
    if size <= 0:
        raise ImpossibleSystem(field, f"{what} must be above 0.")
    return size


def _angle(value: Length | None) -> Decimal | None:
    angle = _size("angle_deg", "The cut angle", value)
    if angle is not None and angle >= 180:
        raise ImpossibleSystem("angle_deg", f"A cut angle of {angle} degrees is flat; it must be below 180.")
    return angle


def _unit(unit: str) -> str:
    if unit not in ("mm", "in"):
        raise ImpossibleSystem("unit", f"The unit must be mm or in, not {unit!r}.")
    return unit
