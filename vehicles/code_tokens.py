"""Each cut of a bitting as one number that also names its key system.

One index over these numbers finds every code with some known cuts, whichever they are: a row holds one number for
each cut, and a search asks for the rows that hold all the numbers of the known cuts.
"""

from collections.abc import Sequence

from vehicles.keys import KeySystem

MOST_CUTS = 32
MOST_DEPTHS = 64


def token_table(system_id: int, system: KeySystem) -> list[dict[str, int]]:
    """For each cut the number of each label."""
    base = system_id * MOST_CUTS
    return [
        {label: (base + cut) * MOST_DEPTHS + place for place, label in enumerate(system.labels)}
        for cut in range(system.cuts)
    ]


def tokens_of(system_id: int, system: KeySystem, known: Sequence[str | None]) -> list[int]:
    """The numbers of the known cuts; unknown ones (None) give none. The depth counts by its place in label order."""
    places = {label: place for place, label in enumerate(system.labels)}
    base = system_id * MOST_CUTS
    return [(base + cut) * MOST_DEPTHS + places[label] for cut, label in enumerate(known) if label is not None]
