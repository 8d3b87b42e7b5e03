"""The figures of a cutting card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from .checks import cuts_of
from .rules import Spot
from .system import KeySystem
from .units import to_inch


@dataclass(frozen=True)
class CutLine:
    """One cut in reading order: where it is from the stop, and the blade left there."""

    spot: Spot
    label: str
    at_mm: Decimal
    root_mm: Decimal

    @property
    def at_in(self) -> Decimal:
        return to_inch(self.at_mm)

    @property
    def root_in(self) -> Decimal:
        return to_inch(self.root_mm)


def cutting_lines(system: KeySystem, bitting: Sequence[str]) -> list[CutLine]:
    """Each cut with its place and root depth. Raises BadBitting."""
    cuts = cuts_of(system, bitting)
    return [
        CutLine(spot, cut.label, at, cut.root_mm)
        for spot, cut, at in zip(system.spots, cuts, system.distances_mm, strict=True)
    ]


def reading_groups(system: KeySystem, bitting: Sequence[str]) -> list[tuple[str, ...]]:
    """The labels in groups to be read aloud: no group crosses an edge, none is longer than
    four, and groups are as equal as they can be with the longer ones first."""
    groups: list[tuple[str, ...]] = []
    lines = cutting_lines(system, bitting)
    for edge in range(1, lines[-1].spot.edge + 1):
        labels = [line.label for line in lines if line.spot.edge == edge]
        parts = -(-len(labels) // 4)
        size, longer = divmod(len(labels), parts)
        start = 0
        for part in range(parts):
            end = start + size + (part < longer)
            groups.append(tuple(labels[start:end]))
            start = end
    return groups
