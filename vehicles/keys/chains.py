"""The fewest blanks on which every candidate can be tried.

A blank can only be cut deeper, so the candidates that can share one blank form a chain in
the order "nowhere shallower". By Dilworth's theorem the smallest number of chains that
cover a finite order equals the size of its largest set of mutually incomparable members
(R. P. Dilworth, "A decomposition theorem for partially ordered sets", Annals of
Mathematics 51, 1950). The order is transitive, so the smallest cover is read off a
maximum matching in the bipartite graph with an edge from each candidate to every deeper
one (D. R. Fulkerson, Proc. AMS 7, 1956): each matched edge saves one blank. Koenig's
theorem turns the same matching into the largest incomparable set, which is the proof
that no smaller number of blanks can do.

Blanks already in hand, cut to some bitting, can be cut on to any candidate that is nowhere
shallower. They join the graph as further places a candidate can follow from, so the
same matching gives the fewest *new* blanks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from .checks import clean_bittings, cuts_of
from .system import Bitting, KeySystem

Progress = Callable[[float], object]
_BLOCK = 256
_NONE = -1


@dataclass(frozen=True)
class Chain:
    """Candidates to be cut one after the other on one blank, shallow to deep. `blank` is the
    index of the blank in hand that it goes on with, None for a new blank."""

    bittings: tuple[Bitting, ...]
    blank: int | None = None


@dataclass(frozen=True)
class BlankPlan:
    """A smallest cover by chains, with the proof that it is smallest.

    No two of `incomparable` can share a blank, and of the blanks in hand only those in
    `usable` can be cut on to any of them; so at least len(incomparable) - len(usable)
    new blanks are needed, and `new_blanks` is that number.
    """

    chains: tuple[Chain, ...]
    incomparable: tuple[Bitting, ...]
    usable: tuple[int, ...] = ()

    @property
    def new_blanks(self) -> int:
        return sum(chain.blank is None for chain in self.chains)

    @property
    def is_minimum(self) -> bool:
        return self.new_blanks == len(self.incomparable) - len(self.usable)


def fewest_blanks(
    system: KeySystem, bittings: Iterable[Sequence[str]], *, progress: Progress | None = None
) -> list[list[Bitting]]:
    """The candidates in as few chains as possible, each in cutting order, shallow to deep.

    Every candidate is on exactly one chain (one given twice counts once). `progress` is
    called with the share of the work done, 0 to 1. Raises BadBitting.
    """
    return [list(chain.bittings) for chain in plan_blanks(system, bittings, progress=progress).chains]


def largest_incomparable_set(system: KeySystem, bittings: Iterable[Sequence[str]]) -> list[Bitting]:
    """A largest set of candidates of which no two can share a blank. Raises BadBitting."""
    return list(plan_blanks(system, bittings).incomparable)


def plan_blanks(
    system: KeySystem,
    bittings: Iterable[Sequence[str]],
    *,
    in_hand: Sequence[Sequence[str]] = (),
    progress: Progress | None = None,
) -> BlankPlan:
    """The fewest new blanks for the candidates, given the blanks in hand (what each is cut
    to by now), with its proof. Raises BadBitting."""
    candidates = clean_bittings(system, bittings)
    if not candidates:
        return BlankPlan((), ())
    ranks = _ranks(system, candidates)
    order = np.lexsort((*ranks.T[::-1], ranks.sum(axis=1)))
    candidates = [candidates[place] for place in order]
    ranks = ranks[order]
    graph = _can_follow(system, ranks, _ranks(system, in_hand), progress or (lambda done: None))
    after = maximum_bipartite_matching(graph, perm_type="column")
    plan = BlankPlan(tuple(_chains(candidates, after)), *_proof(candidates, graph, after, hand=len(in_hand)))
    if progress:
        progress(1.0)
    return plan


def _ranks(system: KeySystem, bittings: Sequence[Sequence[str]]) -> NDArray[np.int16]:
    """One row per bitting, one column per cut, larger for deeper."""
    rows = [[cut.rank for cut in cuts_of(system, bitting)] for bitting in bittings]
    return np.array(rows, dtype=np.int16).reshape(len(rows), system.cuts)


def _can_follow(system: KeySystem, ranks: NDArray[np.int16], hand: NDArray[np.int16], progress: Progress) -> csr_matrix:
    """Rows: the candidates, then the blanks in hand. Columns: the candidates that can be cut
    next on the same blank. Candidates are sorted by total depth, so that the matching,
    which tries columns from the left, prefers small steps."""
    rows = np.vstack([ranks, hand])
    columns: list[NDArray[np.int32]] = []
    lengths: list[NDArray[np.int64]] = []
    for start in range(0, len(rows), _BLOCK):
        block = rows[start : start + _BLOCK]
        follows = np.full((len(block), len(ranks)), True)
        for cut in range(ranks.shape[1]):
            if system.can_recut:
                follows &= block[:, None, cut] <= ranks[None, :, cut]
            else:
                follows &= block[:, None, cut] == ranks[None, :, cut]
        own = np.arange(start, min(start + _BLOCK, len(ranks)))
        follows[own - start, own] = False
        columns.append(np.nonzero(follows)[1].astype(np.int32))
        lengths.append(follows.sum(axis=1))
        progress(0.5 * (start + len(block)) / len(rows))
    starts = np.concatenate([[0], np.cumsum(np.concatenate(lengths))])
    indices = np.concatenate(columns)
    data = np.ones(len(indices), dtype=np.int8)
    return csr_matrix((data, indices, starts.astype(np.int32)), shape=(len(rows), len(ranks)))


def _chains(candidates: Sequence[Bitting], after: NDArray[np.int32]) -> list[Chain]:
    """Follow the matching from each blank in hand, then from each unmatched candidate."""
    number = len(candidates)
    heads = [(int(first), blank) for blank, first in enumerate(after[number:]) if first != _NONE]
    followed = np.zeros(number, dtype=bool)
    followed[after[after != _NONE]] = True
    starts: list[tuple[int, int | None]] = [*heads]
    starts += [(int(first), None) for first in np.flatnonzero(~followed)]
    chains = []
    for first, blank in starts:
        chain, place = [], first
        while place != _NONE:
            chain.append(candidates[place])
            place = int(after[place])
        chains.append(Chain(tuple(chain), blank))
    return chains


def _proof(
    candidates: Sequence[Bitting], graph: csr_matrix, after: NDArray[np.int32], *, hand: int
) -> tuple[tuple[Bitting, ...], tuple[int, ...]]:
    """Koenig: rows and columns reached from unmatched rows by alternating paths. A candidate
    whose row is reached and whose column is not lies in the largest incomparable set; a
    blank in hand that is not reached is spent by the smallest cover."""
    before = np.full(graph.shape[1], _NONE, dtype=np.int64)
    matched = np.flatnonzero(after != _NONE)
    before[after[matched]] = matched
    row_reached = after == _NONE
    column_reached = np.zeros(graph.shape[1], dtype=bool)
    queue = list(np.flatnonzero(row_reached))
    while queue:
        row = queue.pop()
        reached = graph.indices[graph.indptr[row] : graph.indptr[row + 1]]
        fresh = reached[~column_reached[reached]]
        column_reached[fresh] = True
        rows = before[fresh]
        row_reached[rows] = True
        queue.extend(rows)
    number = len(candidates)
    independent = np.flatnonzero(row_reached[:number] & ~column_reached)
    usable = tuple(blank for blank in range(hand) if not row_reached[number + blank])
    return tuple(candidates[int(place)] for place in independent), usable
