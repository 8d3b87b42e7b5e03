"""The fewest blanks: every chain only gets deeper, and no smaller number can do."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vehicles.keys.key_samples import a_system, can_share, every_bitting, systems_with_candidates
from vehicles.keys import (
    BadBitting,
    Bitting,
    KeySystem,
    fewest_blanks,
    largest_incomparable_set,
    plan_blanks,
)

Case = tuple[KeySystem, list[Bitting]]


@pytest.mark.parametrize(
    ("depths", "widths"),
    # OEIS A077042 (largest coefficient of (1 + x + ... + x^(n-1))^k): the largest set of
    # mutually incomparable bittings, which by Dilworth (1950) is the fewest chains.
    [(1, [1, 1, 1, 1]), (2, [1, 2, 3, 6]), (3, [1, 3, 7, 19]), (5, [1, 5, 19, 85])],
)
def test_all_bittings_need_the_published_number_of_blanks(depths: int, widths: list[int]) -> None:
    for cuts, width in enumerate(widths, 1):
        for increment in ("0.4", "-0.4"):
            system = a_system(cuts, "12345"[:depths], increment=increment)
            everything = list(every_bitting(system))
            assert len(fewest_blanks(system, everything)) == width
            assert len(largest_incomparable_set(system, everything)) == width


def widest(system: KeySystem, candidates: Sequence[Bitting]) -> int:
    """The largest set of mutually incomparable candidates, by trying all sets."""
    for size in range(len(candidates), 0, -1):
        for some in combinations(candidates, size):
            if not any(can_share(system, a, b) or can_share(system, b, a) for a, b in combinations(some, 2)):
                return size
    return 0


@given(systems_with_candidates())
@settings(max_examples=120, deadline=None)
def test_chains_only_get_deeper_cover_each_once_and_are_fewest(case: Case) -> None:
    system, candidates = case
    chains = fewest_blanks(system, candidates)
    for chain in chains:
        assert all(can_share(system, a, b) for a, b in pairwise(chain))
    assert sorted(bitting for chain in chains for bitting in chain) == sorted(candidates)
    assert len(chains) == widest(system, candidates)
    proof = largest_incomparable_set(system, candidates)
    assert len(proof) == len(chains)
    assert widest(system, proof) == len(proof)


def fewest_new(system: KeySystem, candidates: Sequence[Bitting], hand: Sequence[Bitting]) -> int:
    """The fewest new blanks by trying every assignment, candidates taken shallow to deep."""
    root = system.root_depths_mm
    order = sorted(candidates, key=lambda bitting: -sum(root[label] for label in bitting))

    def search(place: int, tops: tuple[Bitting, ...], new: int, best: int) -> int:
        if place == len(order) or new >= best:
            return min(new, best)
        for index, top in enumerate(tops):
            if can_share(system, top, order[place]):
                best = search(place + 1, (*tops[:index], order[place], *tops[index + 1 :]), new, best)
        return search(place + 1, (*tops, order[place]), new + 1, best)

    return search(0, tuple(hand), 0, len(order))


@given(systems_with_candidates(most=6), st.data())
@settings(max_examples=120, deadline=None)
def test_blanks_in_hand_spare_as_many_new_ones_as_can_be(case: Case, data: st.DataObject) -> None:
    system, candidates = case
    bitting = st.tuples(*[st.sampled_from(system.labels)] * system.cuts)
    hand = data.draw(st.lists(bitting, max_size=3))
    plan = plan_blanks(system, candidates, in_hand=hand)
    assert plan.new_blanks == fewest_new(system, candidates, hand)
    assert plan.is_minimum
    assert sorted(each for chain in plan.chains for each in chain.bittings) == sorted(candidates)
    used = [chain.blank for chain in plan.chains if chain.blank is not None]
    assert len(used) == len(set(used))
    for chain in plan.chains:
        start = [] if chain.blank is None else [hand[chain.blank]]
        whole = [*start, *chain.bittings]
        assert all(can_share(system, a, b) for a, b in pairwise(whole))
    outside = [blank for number, blank in enumerate(hand) if number not in plan.usable]
    assert not any(can_share(system, blank, each) for blank in outside for each in plan.incomparable)
    assert len(plan.incomparable) - len(plan.usable) == plan.new_blanks


def test_a_groove_that_cannot_be_recut_needs_a_blank_for_each() -> None:
    system = a_system(3, "123", can_recut=False)
    everything = list(every_bitting(system))
    assert len(fewest_blanks(system, everything)) == len(everything)
    assert plan_blanks(system, everything, in_hand=[("1", "1", "1")]).new_blanks == len(everything) - 1


def test_rank_not_label_decides_what_is_deeper() -> None:
    falling = a_system(2, "123")
    rising = a_system(2, "123", increment="-0.4")
    ladder = [("1", "1"), ("2", "1"), ("3", "3")]
    assert fewest_blanks(falling, ladder) == [ladder]
    assert fewest_blanks(rising, ladder) == [ladder[::-1]]


def test_odd_lists_are_taken_as_they_are() -> None:
    system = a_system(2, "123")
    assert fewest_blanks(system, []) == []
    assert fewest_blanks(system, [("1", "2"), ("1", "2")]) == [[("1", "2")]]
    with pytest.raises(BadBitting) as refused:
        fewest_blanks(system, [("1", "2"), ("1", "7")])
    assert refused.value.position == 2


def test_five_thousand_candidates_are_covered_with_progress_and_proof() -> None:
    system = a_system(5, "123456")
    candidates = list(every_bitting(system))[:5000]
    seen: list[float] = []
    plan = plan_blanks(system, candidates, progress=seen.append)
    assert plan.is_minimum
    assert sum(len(chain.bittings) for chain in plan.chains) == 5000
    assert seen == sorted(seen)
    assert len(seen) > 10
    assert seen[-1] == 1.0
