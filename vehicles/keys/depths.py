"""The depths of a key system: labels, their numbers, and which is cut deeper."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from .errors import BadLength, ImpossibleSystem
from .units import Length, mm

_INTEGER = re.compile(r"[+-]?\d+\Z")


@dataclass(frozen=True, slots=True)
class Depth:
    """One step a cut can have.

    `number` is what MACS and the series rules count with: the label itself when all
    labels are whole numbers, otherwise its place in the list from 1. `rank` says how
    deep the cut is, 0 for the shallowest (most blade left), whichever way labels run.
    """

    label: str
    number: int
    root_mm: Decimal
    rank: int


def read_depths(root_depths_mm: Mapping[str, Length]) -> tuple[Depth, ...]:
    """The depths in label order. Raises ImpossibleSystem when they are not strictly
    rising or strictly falling with the label."""
    if not root_depths_mm:
        raise ImpossibleSystem("root_depths_mm", "Give at least one depth.")
    roots = {_label(label): _root(label, root) for label, root in root_depths_mm.items()}
    if len(roots) != len(root_depths_mm):
        raise ImpossibleSystem("root_depths_mm", "A depth label is given twice.")
    numbers = _numbers(list(roots))
    order = sorted(roots, key=numbers.__getitem__)
    falling = _falls([roots[label] for label in order], order)
    last = len(order) - 1
    return tuple(
        Depth(label, numbers[label], roots[label], place if falling else last - place)
        for place, label in enumerate(order)
    )


def _label(label: object) -> str:
    text = str(label).strip() if isinstance(label, (str, int)) and not isinstance(label, bool) else ""
    if not text:
        raise ImpossibleSystem("root_depths_mm", f"{label!r} is not a depth label.")
    return text


def _root(label: object, root: Length) -> Decimal:
    try:
        value = mm(root)
    except BadLength as error:
        raise ImpossibleSystem("root_depths_mm", f"Depth {label}: {error}") from None
    if value <= 0:
        raise ImpossibleSystem("root_depths_mm", f"Depth {label}: a root depth must be above 0 mm.")
    return value


def _numbers(labels: list[str]) -> dict[str, int]:
    if not all(_INTEGER.match(label) for label in labels):
        return {label: place for place, label in enumerate(labels, start=1)}
    numbers = {label: int(label) for label in labels}
    if len(set(numbers.values())) != len(labels):
        raise ImpossibleSystem("root_depths_mm", "Two depth labels are the same number.")
    return numbers


def _falls(roots: list[Decimal], labels: list[str]) -> bool:
    falling = len(roots) < 2 or roots[1] < roots[0]
    for (first, second), (label, following) in zip(pairwise(roots), pairwise(labels), strict=True):
        if first == second:
            words = f"Depths {label} and {following} have the same root depth, {first} mm."
            raise ImpossibleSystem("root_depths_mm", words)
        if (second < first) != falling:
            way = "fall" if falling else "rise"
            words = (
                f"Root depths must only fall or only rise with the label: they {way} up to depth {label} "
                f"({first} mm), but depth {following} is {second} mm."
            )
            raise ImpossibleSystem("root_depths_mm", words)
    return falling
