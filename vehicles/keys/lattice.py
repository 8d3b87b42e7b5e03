"""All the bittings that obey MACS and the series rules, as a layered graph.

A node is (place, joint state of all rules); an arc is one depth at that place. Nodes from
which no whole bitting can be finished are pruned, so every walk from the start ends in
a right bitting: listing explores no dead end, and counting, totals of weights and the
best continuation are each one backward pass.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import count

from .depths import Depth
from .rules import Rule, Spot, State
from .system import Bitting, KeySystem

Node = tuple[State, ...]
Arcs = dict[Node, list[tuple[Depth, Node]]]
Moves = dict[tuple[int, State], list[State | None]]


class Lattice:
    """The bittings of a system, with the cut at each place limited to `allowed` if given
    (one collection of labels per place)."""

    def __init__(self, system: KeySystem, allowed: Sequence[Collection[str]] | None = None) -> None:
        self.system = system
        self.start: Node = tuple(rule.start() for rule in system.constraints)
        self.layers: list[Arcs] = []
        frontier: Collection[Node] = (self.start,)
        for spot in system.spots:
            choices = [depth for depth in system.depths if allowed is None or depth.label in allowed[spot.position - 1]]
            moves: Moves = {}
            arcs = {node: _arcs(system.constraints, node, spot, choices, moves) for node in frontier}
            self.layers.append(arcs)
            frontier = {after for out in arcs.values() for _, after in out}
        self.ways = self._prune(frontier)

    def _prune(self, ends: Collection[Node]) -> list[dict[Node, int]]:
        """Drop arcs into dead ends; give for each layer the number of ways to finish."""
        ways: list[dict[Node, int]] = [dict.fromkeys(ends, 1)]
        for arcs in reversed(self.layers):
            after = ways[-1]
            here: dict[Node, int] = {}
            for node, out in arcs.items():
                out[:] = [arc for arc in out if arc[1] in after]
                if out:
                    here[node] = sum(after[target] for _, target in out)
            ways.append(here)
        ways.reverse()
        return ways

    @property
    def count(self) -> int:
        """How many bittings there are, without listing them."""
        return self.ways[0].get(self.start, 0)

    def __iter__(self) -> Iterator[Bitting]:
        """Every bitting once, in label order, first cut first."""
        if not self.count:
            return
        labels: list[str] = []
        stack = [iter(self.layers[0][self.start])]
        while stack:
            arc = next(stack[-1], None)
            if arc is None:
                stack.pop()
                if labels:
                    labels.pop()
                continue
            if len(stack) == len(self.layers):
                yield (*labels, arc[0].label)
                continue
            labels.append(arc[0].label)
            stack.append(iter(self.layers[len(stack)][arc[1]]))

    def __contains__(self, bitting: Sequence[str]) -> bool:
        node = self.start
        if len(bitting) != len(self.layers) or not self.count:
            return False
        for arcs, label in zip(self.layers, bitting, strict=True):
            for depth, after in arcs[node]:
                if depth.label == label:
                    node = after
                    break
            else:
                return False
        return True

    def best_first(self, weights: Sequence[dict[str, float]]) -> Iterator[tuple[Bitting, float]]:
        """Bittings with their weight, heaviest first; the weight of a bitting is the product
        of `weights[place][label]`, all above 0.

        Best-first search whose estimate is the exact best continuation, so nothing is
        opened that does not lead straight to the next bitting in rank. Equal weights come in
        label order: longer beginnings first, so that ties are not searched in breadth.
        """
        if not self.count:
            return
        best = self._fold(weights, max)
        order = count()
        heap: list[tuple[float, int, int, Node, float, tuple[str, ...]]] = [
            (-best[0][self.start], 0, next(order), self.start, 1.0, ())
        ]
        while heap:
            _, _, _, node, so_far, labels = heapq.heappop(heap)
            place = len(labels)
            if place == len(self.layers):
                yield labels, so_far
                continue
            for depth, after in self.layers[place][node]:
                weight = so_far * weights[place][depth.label]
                bound = _without_noise(weight * best[place + 1][after])
                heapq.heappush(heap, (-bound, -place - 1, next(order), after, weight, (*labels, depth.label)))

    def total(self, weights: Sequence[dict[str, float]]) -> float:
        """The sum of the weights of all bittings."""
        return self._fold(weights, math.fsum)[0].get(self.start, 0.0)

    def _fold(
        self, weights: Sequence[dict[str, float]], join: Callable[[list[float]], float]
    ) -> list[dict[Node, float]]:
        values: list[dict[Node, float]] = [dict.fromkeys(self.ways[-1], 1.0)]
        for place in reversed(range(len(self.layers))):
            after = values[-1]
            values.append(
                {
                    node: join([weights[place][depth.label] * after[target] for depth, target in out])
                    for node, out in self.layers[place].items()
                    if out
                }
            )
        values.reverse()
        return values

    def marginals(self, weights: Sequence[dict[str, float]]) -> list[dict[str, tuple[int, float]]]:
        """For each place and label: how many bittings have it there, and their summed weight."""
        after_weight = self._fold(weights, math.fsum)
        counts: dict[Node, int] = {self.start: 1} if self.count else {}
        before: dict[Node, float] = {self.start: 1.0} if self.count else {}
        shares: list[dict[str, tuple[int, float]]] = []
        for place, arcs in enumerate(self.layers):
            share: dict[str, tuple[int, float]] = {}
            next_counts: dict[Node, int] = {}
            next_before: dict[Node, float] = {}
            for node, number in counts.items():
                for depth, target in arcs[node]:
                    weight = before[node] * weights[place][depth.label]
                    had = share.get(depth.label, (0, 0.0))
                    share[depth.label] = (
                        had[0] + number * self.ways[place + 1][target],
                        had[1] + weight * after_weight[place + 1][target],
                    )
                    next_counts[target] = next_counts.get(target, 0) + number
                    next_before[target] = next_before.get(target, 0.0) + weight
            shares.append(share)
            counts, before = next_counts, next_before
        return shares


def _without_noise(weight: float) -> float:
    """Twelve digits: equal weights multiplied in another order must still tie."""
    return float(f"{weight:.12g}")


def _arcs(
    rules: Sequence[Rule], node: Node, spot: Spot, choices: Sequence[Depth], moves: Moves
) -> list[tuple[Depth, Node]]:
    """The arcs out of a node. `moves` remembers what each single rule does from each of its
    states at this place: joint states are many, the states of one rule are few."""
    columns = []
    for number, (rule, state) in enumerate(zip(rules, node, strict=True)):
        if (number, state) not in moves:
            moves[number, state] = [rule.step(state, spot, depth) for depth in choices]
        columns.append(moves[number, state])
    if not columns:
        return [(depth, ()) for depth in choices]
    joint = zip(*columns, strict=True)
    return [(depth, after) for depth, after in zip(choices, joint, strict=True) if None not in after]
