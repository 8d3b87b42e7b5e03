"""Filling in the cuts that could not be read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from .errors import BadBitting, TooManyBittings
from .lattice import Lattice
from .system import Bitting, KeySystem

LISTED_AT_MOST = 1_000_000


def completions(
    system: KeySystem,
    known: Sequence[str | None],
    *,
    code_book: Iterable[Sequence[str]] | None = None,
    limit: int | None = LISTED_AT_MOST,
) -> list[Bitting]:
    """Every bitting that has the known cuts and obeys MACS and the series rules, in label
    order; only those in `code_book` when one is given.

    `known` has one entry per cut, None where the cut is not known. Raises BadBitting for a
    wrong number of cuts or an unknown label, and TooManyBittings (before listing any) when
    there are more than `limit`.
    """
    lattice = Lattice(system, _allowed(system, known))
    if code_book is not None:
        return _in_book(lattice, code_book)
    if limit is not None and lattice.count > limit:
        raise TooManyBittings(lattice.count, limit)
    return list(lattice)


def iter_completions(system: KeySystem, known: Sequence[str | None]) -> Iterator[Bitting]:
    """The same one by one and without limit."""
    return iter(Lattice(system, _allowed(system, known)))


def count_completions(
    system: KeySystem, known: Sequence[str | None], *, code_book: Iterable[Sequence[str]] | None = None
) -> int:
    """How many completions there are, found without listing them."""
    lattice = Lattice(system, _allowed(system, known))
    return lattice.count if code_book is None else len(_in_book(lattice, code_book))


def _in_book(lattice: Lattice, code_book: Iterable[Sequence[str]]) -> list[Bitting]:
    fitting = {tuple(entry) for entry in code_book if entry in lattice}
    numbers = {depth.label: depth.number for depth in lattice.system.depths}
    return sorted(fitting, key=lambda bitting: [numbers[label] for label in bitting])


def _allowed(system: KeySystem, known: Sequence[str | None]) -> list[tuple[str, ...]]:
    if len(known) != system.cuts:
        place = min(len(known), system.cuts) + 1
        fault = "too few" if len(known) < system.cuts else "too many"
        words = f"{len(known)} cuts are {fault}: {system.name} has {system.cuts}. Leave unknown cuts open."
        raise BadBitting(place, words)
    for spot, label in zip(system.spots, known, strict=True):
        if label is not None and str(label) not in system.by_label:
            words = f"{spot.words.capitalize()}: {system.name} has no depth {label}."
            raise BadBitting(spot.position, words)
    return [system.labels if label is None else (str(label),) for label in known]
