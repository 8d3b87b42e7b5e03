"""Reading a bitting against its key system."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .depths import Depth
from .errors import BadBitting
from .rules import Spot, Violation
from .system import Bitting, KeySystem


def violations(system: KeySystem, bitting: Sequence[str]) -> list[Violation]:
    """Everything wrong with a bitting, by place: unknown labels and a wrong number of cuts
    first, and if there are none, MACS and the series rules. Empty when the key can exist."""
    shape = _shape_violations(system, bitting)
    if shape:
        return shape
    cuts = [system.by_label[str(label)] for label in bitting]
    return [found for rule in system.constraints for found in rule.broken(system.spots, cuts)]


def _shape_violations(system: KeySystem, bitting: Sequence[str]) -> list[Violation]:
    found = [
        Violation("label", (spot.position,), _no_such_depth(system, spot, label))
        for spot, label in zip(system.spots, bitting, strict=False)
        if str(label) not in system.by_label
    ]
    if len(bitting) != system.cuts:
        places = range(min(len(bitting), system.cuts) + 1, max(len(bitting), system.cuts) + 1)
        found.append(Violation("length", tuple(places), _wrong_length(system, len(bitting))))
    return found


def _no_such_depth(system: KeySystem, spot: Spot, label: object) -> str:
    known = ", ".join(system.labels)
    return f"{spot.words.capitalize()}: {system.name} has no depth {label}. Its depths are {known}."


def _wrong_length(system: KeySystem, given: int) -> str:
    fault = "too few" if given < system.cuts else "too many"
    return f"{given} cuts are {fault}: {system.name} has {system.cuts}."


def cuts_of(system: KeySystem, bitting: Sequence[str]) -> tuple[Depth, ...]:
    """The depths of a bitting. Raises BadBitting for unknown labels or a wrong number of cuts."""
    wrong = _shape_violations(system, bitting)
    if wrong:
        raise BadBitting(wrong[0].position, wrong[0].words)
    return tuple(system.by_label[str(label)] for label in bitting)


def clean_bittings(system: KeySystem, bittings: Iterable[Sequence[str]]) -> list[Bitting]:
    """The bittings as tuples of labels, each once, in the order given. Raises BadBitting."""
    seen: dict[Bitting, None] = {}
    for bitting in bittings:
        seen[tuple(cut.label for cut in cuts_of(system, bitting))] = None
    return list(seen)
