"""From measurements to the bittings they can mean."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice
from typing import NamedTuple, overload

from .checks import violations
from .errors import BadBitting, BadReadings, KeysError, UnitsDoubt
from .lattice import Lattice
from .rules import Violation
from .system import Bitting, KeySystem
from .units import MM_PER_INCH, Length, mm
from .wear import WearModel

LISTED_AT_MOST = 2_000
_DEFAULT_TOLERANCE = Decimal("0.75")
_SINGLE_DEPTH_STEP = Decimal("0.5")


class Candidate(NamedTuple):
    """A bitting the readings can mean. `weight` is its share of all that remain, 0 to 1."""

    bitting: Bitting
    weight: float


@dataclass(frozen=True)
class Choice:
    """A depth one reading can mean, with its share among the depths of that cut and the
    error (reading less root, mm; positive reads shallow); no error when the cut was not read."""

    label: str
    share: float
    error_mm: Decimal | None


@dataclass(frozen=True)
class NextReading:
    """What knowing one more cut for certain would bring: `bits` of information on average, and
    how many candidates it would leave on average."""

    position: int
    bits: float
    expected_remaining: float


@dataclass(frozen=True)
class Decoded(Sequence[Candidate]):
    """The candidates, likeliest first; behaves as a sequence of them.

    `remaining` counts all that fit even when fewer are listed, and `listed_weight` is the
    share of the listed ones. `choices` are the depths each reading can mean by itself.
    `stated_rate` is the chance, by the wear model, that every reading lies within its
    bounds of the true depth. `next_readings` are the cuts most worth reading (again),
    best first; cuts that are settled are left out. When nothing remains, `why_none`
    says what is wrong with the bitting the readings alone would give.
    """

    candidates: tuple[Candidate, ...]
    remaining: int
    listed_weight: float
    choices: tuple[tuple[Choice, ...], ...]
    tolerance_mm: Decimal
    stated_rate: float
    next_readings: tuple[NextReading, ...]
    why_none: tuple[Violation, ...] = ()

    @overload
    def __getitem__(self, index: int) -> Candidate: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Candidate, ...]: ...
    def __getitem__(self, index: int | slice) -> Candidate | tuple[Candidate, ...]:
        return self.candidates[index]

    def __len__(self) -> int:
        return len(self.candidates)

    @property
    def best_next_reading(self) -> NextReading | None:
        return self.next_readings[0] if self.next_readings else None


def decode(
    system: KeySystem,
    readings_mm: Sequence[Length | None],
    tolerance_mm: Length | None = None,
    *,
    worn: bool = True,
    model: WearModel | None = None,
    code_book: Iterable[Sequence[str]] | None = None,
    limit: int = LISTED_AT_MOST,
) -> Decoded:
    """The bittings that measured root depths can mean, likeliest first.

    `readings_mm` has one root depth per cut in reading order, None where none was taken. A
    depth is a candidate when the reading is within `tolerance_mm` of its root (three
    quarters of the smallest step unless given); for a worn key also when it is shallow of
    it by no more than the reach of wear. A reading within the tolerance of no depth, but
    between two, can be either. Weights come from `model`; `worn=False` is for the wafers of
    a lock, which do not lean to either side. MACS, the series rules and `code_book` cut
    the joint candidates down. At most `limit` are listed.

    Raises UnitsDoubt when the readings fit only if taken in another unit, BadReadings when
    a reading fits no depth, BadBitting for a wrong number of readings.
    """
    readings = _read(system, readings_mm)
    step = system.smallest_step_mm or _SINGLE_DEPTH_STEP
    tolerance = step * _DEFAULT_TOLERANCE if tolerance_mm is None else mm(tolerance_mm)
    if tolerance < 0:
        raise BadReadings((), "The tolerance cannot be below 0.")
    model = model or WearModel.for_step(float(step), worn=worn)
    _check_units(system, readings, tolerance)
    choices = [_choices(system, reading, tolerance, model) for reading in readings]
    unread = tuple(place for place, found in enumerate(choices, 1) if not found)
    if unread:
        raise BadReadings(unread, _no_depth(system, readings, unread))
    weights = [{choice.label: choice.share for choice in found} for found in choices]
    fit = _Fit(Lattice(system, weights), weights, code_book)
    listed = fit.listed(limit)
    read = sum(reading is not None for reading in readings)
    return Decoded(
        candidates=tuple(listed),
        remaining=fit.count,
        listed_weight=math.fsum(candidate.weight for candidate in listed),
        choices=tuple(choices),
        tolerance_mm=tolerance,
        stated_rate=model.rate_within(float(tolerance)) ** read,
        next_readings=tuple(fit.next_readings()),
        why_none=() if fit.count else _why_none(system, choices),
    )


def _read(system: KeySystem, given: Sequence[Length | None]) -> list[Decimal | None]:
    if len(given) != system.cuts:
        fault = "too few" if len(given) < system.cuts else "too many"
        words = f"{len(given)} readings are {fault}: {system.name} has {system.cuts} cuts."
        raise BadBitting(min(len(given), system.cuts) + 1, words)
    readings: list[Decimal | None] = []
    for place, reading in enumerate(given, 1):
        try:
            readings.append(None if reading is None else mm(reading))
        except KeysError as error:
            raise BadReadings((place,), f"Cut {place}: {error}") from None
    return readings


def _choices(system: KeySystem, reading: Decimal | None, tolerance: Decimal, model: WearModel) -> tuple[Choice, ...]:
    """The depths a reading can mean, likeliest first; empty when it fits none."""
    if reading is None:
        share = 1 / len(system.depths)
        return tuple(Choice(depth.label, share, None) for depth in system.depths)
    errors = {depth.label: reading - depth.root_mm for depth in system.depths}
    shallow = max(float(tolerance), model.reach_mm)
    near = {label for label, error in errors.items() if -tolerance <= error and float(error) <= shallow}
    if all(abs(error) > tolerance for error in errors.values()):
        near |= _either_side(errors)
    densities = {label: model.density(float(errors[label])) for label in errors if label in near}
    total = math.fsum(densities.values())
    found = [Choice(label, density / total, errors[label]) for label, density in densities.items()]
    return tuple(sorted(found, key=lambda choice: -choice.share))


def _either_side(errors: dict[str, Decimal]) -> set[str]:
    """The two depths a reading lies between; none when it lies beyond all of them."""
    deeper = [label for label, error in errors.items() if error > 0]
    shallower = [label for label, error in errors.items() if error < 0]
    if not deeper or not shallower:
        return set()
    return {min(deeper, key=errors.__getitem__), max(shallower, key=errors.__getitem__)}


def _no_depth(system: KeySystem, readings: Sequence[Decimal | None], places: Sequence[int]) -> str:
    roots = [depth.root_mm for depth in system.depths]
    named = ", ".join(f"cut {place} ({readings[place - 1]} mm)" for place in places)
    return (
        f"No depth of {system.name} fits {named}; its root depths run from {max(roots)} to {min(roots)} mm. "
        "Measure again."
    )


def _check_units(system: KeySystem, readings: Sequence[Decimal | None], tolerance: Decimal) -> None:
    """Raise UnitsDoubt when no reading fits as mm and every one does in another unit."""
    taken = [reading for reading in readings if reading is not None]
    roots = [depth.root_mm for depth in system.depths]
    low, high = min(roots) - tolerance, max(roots) + tolerance
    if not taken or any(low <= reading <= high for reading in taken):
        return
    thou = MM_PER_INCH / 1000
    for unit, factor, words in (
        ("in", MM_PER_INCH, "These readings look like inches, not millimetres."),
        ("thou", thou, "These readings look like thousandths of an inch, not millimetres."),
        ("mm", 1 / MM_PER_INCH, "These readings look like millimetres that were taken for inches."),
    ):
        if all(low <= reading * factor <= high for reading in taken):
            converted = [None if reading is None else _rounded(reading * factor) for reading in readings]
            example = next(reading for reading in converted if reading is not None)
            raise UnitsDoubt(unit, f"{words} The first would be {example} mm. Is that so?", converted)


def _rounded(value: Decimal) -> Decimal:
    """A nanometre is finer than any caliper and hides the remainder of dividing by 25.4."""
    return round(value, 6).normalize() + 0


def _why_none(system: KeySystem, choices: Sequence[Sequence[Choice]]) -> tuple[Violation, ...]:
    return tuple(violations(system, [found[0].label for found in choices]))


class _Fit:
    """All joint candidates: implicit in the lattice, or listed when a code book limits them."""

    def __init__(
        self,
        lattice: Lattice,
        weights: Sequence[dict[str, float]],
        code_book: Iterable[Sequence[str]] | None,
    ) -> None:
        self.lattice, self.weights = lattice, weights
        self.book: list[Candidate] | None = None
        if code_book is not None:
            fitting = {tuple(entry) for entry in code_book if entry in lattice}
            found = [Candidate(entry, self._product(entry)) for entry in fitting]
            self.book = sorted(found, key=lambda each: (-each.weight, each.bitting))
        self.count = lattice.count if self.book is None else len(self.book)
        self.total = (
            lattice.total(weights) if self.book is None else math.fsum(candidate.weight for candidate in self.book)
        )

    def _product(self, bitting: Sequence[str]) -> float:
        return math.prod(weights[label] for weights, label in zip(self.weights, bitting, strict=True))

    def listed(self, limit: int) -> list[Candidate]:
        ranked: Iterator[tuple[Bitting, float]] = (
            self.lattice.best_first(self.weights) if self.book is None else iter(self.book)
        )
        return [Candidate(bitting, weight / self.total) for bitting, weight in islice(ranked, limit)]

    def next_readings(self) -> list[NextReading]:
        found = []
        for position, share in enumerate(self._marginals(), 1):
            chances = [(number, weight / self.total) for number, weight in share.values()]
            bits = -math.fsum(chance * math.log2(chance) for _, chance in chances if chance > 0)
            if len(chances) > 1:
                left = math.fsum(number * chance for number, chance in chances)
                found.append(NextReading(position, bits, left))
        return sorted(found, key=lambda reading: (-reading.bits, reading.position))

    def _marginals(self) -> list[dict[str, tuple[int, float]]]:
        if self.book is None:
            return self.lattice.marginals(self.weights)
        shares: list[dict[str, tuple[int, float]]] = [{} for _ in self.weights]
        for bitting, weight in self.book:
            for share, label in zip(shares, bitting, strict=True):
                had = share.get(label, (0, 0.0))
                share[label] = (had[0] + 1, had[1] + weight)
        return shares
