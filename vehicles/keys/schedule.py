"""The order of trying that finds the key soonest on average.

Trying candidate j takes time p_j and it is the right one with chance w_j; the expected
time until the key turns is the sum of w_j C_j, C_j being the time when j has been tried.
Within a chain the order is fixed. This is single machine scheduling with chain
precedence and total weighted completion time. The exact answer: in each chain find the
prefix with the largest ratio of summed chance to summed time, do the prefix with the
largest ratio of all, and go on with what is left (M. Pinedo, "Scheduling: Theory,
Algorithms, and Systems", section 3.1, algorithm for chains; W. A. Horn, SIAM Journal
on Applied Mathematics 23, 1972; J. B. Sidney, Operations Research 23, 1975).

It is exact for the chains it is given. Another cover by equally few chains may allow a
sooner expected find.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Task:
    """One candidate on a chain: its chance (any positive scale) and the time to try it, above 0."""

    weight: Fraction
    time: Fraction


@dataclass(slots=True)
class _Block:
    """A run of tasks on one chain that an optimal order never splits."""

    weight: Fraction
    time: Fraction
    first: int
    size: int


def soonest_order(chains: Sequence[Sequence[Task]]) -> list[tuple[int, int]]:
    """The optimal order as (chain, place on chain) pairs, both from 0.

    Where the order does not matter it follows the earlier chain in the list and stays on it.
    """
    blocks = [(number, block) for number, chain in enumerate(chains) for block in _blocks(chain)]
    # The sort is stable and ratios strictly fall along a chain, so no chain is turned round.
    blocks.sort(key=lambda entry: -entry[1].weight / entry[1].time)
    return [(number, place) for number, block in blocks for place in range(block.first, block.first + block.size)]


def _blocks(chain: Sequence[Task]) -> list[_Block]:
    """Cut a chain into its successive prefixes of largest ratio: a task joins the block
    before it as long as that does not lower the block's ratio."""
    blocks: list[_Block] = []
    for place, task in enumerate(chain):
        block = _Block(task.weight, task.time, place, 1)
        while blocks and block.weight * blocks[-1].time >= blocks[-1].weight * block.time:
            before = blocks.pop()
            block = _Block(
                before.weight + block.weight, before.time + block.time, before.first, before.size + block.size
            )
        blocks.append(block)
    return blocks


def weighted_completion(chains: Sequence[Sequence[Task]], order: Sequence[tuple[int, int]]) -> Fraction:
    """The sum of w_j C_j of an order."""
    clock = total = Fraction(0)
    for number, place in order:
        task = chains[number][place]
        clock += task.time
        total += task.weight * clock
    return total
