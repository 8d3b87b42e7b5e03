"""How many keys a system can have.

With MACS m and depths 1..n, the number of bittings of k cuts that end in depth j is the
sum of the numbers of bittings of k - 1 cuts that end within m of j. The same recurrence
over the joint state of all rules counts every system here, so the work grows with
cuts x states x depths and never with the number of keys.
"""

from __future__ import annotations

from .lattice import Lattice
from .system import KeySystem


def count_bittings(system: KeySystem) -> int:
    """The usable bittings: those that obey MACS and every series rule."""
    return Lattice(system).count


def count_theoretical(system: KeySystem) -> int:
    """All bittings, obeying nothing: depths to the power of cuts."""
    return int(len(system.depths) ** system.cuts)
