"""The cuts of a bitting as numbers by which one index finds codes, whatever cuts are unknown.

A row holds a number for each cut and one for each two neighbouring cuts; every number also names the key system. A
search asks for the rows that hold all the numbers of what is known. Two neighbours together are far rarer than either
alone, so where neighbours are known the search asks for their pairs, and for single cuts only where they stand alone.
"""

from collections.abc import Sequence

from vehicles.keys import KeySystem

MOST_CUTS = 32
MOST_DEPTHS = 64
_PAIRS = MOST_CUTS * MOST_DEPTHS**2
_SYSTEM = 2 * _PAIRS


class Tokens:
    """The numbers of one key system. A depth counts by its place in label order."""

    def __init__(self, system_id: int, system: KeySystem) -> None:
        self._place = {label: place for place, label in enumerate(system.labels)}
        self._base = system_id * _SYSTEM

    def of_row(self, bitting: Sequence[str]) -> list[int]:
        """What a row with this bitting holds."""
        cuts = [self._place[label] for label in bitting]
        singles = [self._single(cut, place) for cut, place in enumerate(cuts)]
        return singles + [self._pair(cut, *cuts[cut : cut + 2]) for cut in range(len(cuts) - 1)]

    def of_search(self, known: Sequence[str | None]) -> list[int]:
        """What every row with the known cuts (None: unknown) holds, in as few numbers as find it."""
        places = [None if label is None else self._place[label] for label in known]
        found: list[int] = []
        cut = 0
        while cut < len(places):
            end = cut
            while end < len(places) and places[end] is not None:
                end += 1
            found += self._run(cut, [place for place in places[cut:end] if place is not None])
            cut = end + 1
        return found

    def _run(self, first: int, places: Sequence[int]) -> list[int]:
        """Known cuts side by side: pairs, the last one overlapping when their number is odd."""
        if len(places) == 1:
            return [self._single(first, places[0])]
        starts = sorted({*range(0, len(places) - 1, 2), len(places) - 2} if places else ())
        return [self._pair(first + start, places[start], places[start + 1]) for start in starts]

    def singles(self, cut: int, labels: Sequence[str]) -> list[int]:
        """The numbers of some labels at one cut, counted from 0."""
        return [self._single(cut, self._place[label]) for label in labels]

    def _single(self, cut: int, place: int) -> int:
        return self._base + cut * MOST_DEPTHS + place

    def _pair(self, cut: int, place: int, after: int) -> int:
        return self._base + _PAIRS + (cut * MOST_DEPTHS + place) * MOST_DEPTHS + after
