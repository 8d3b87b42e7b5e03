"""Counting, rules and completions against published counts and against enumeration."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vehicles.keys.key_samples import RULES, a_system, every_bitting, small_systems
from vehicles.keys import (
    BadBitting,
    KeySystem,
    TooManyBittings,
    completions,
    count_bittings,
    count_completions,
    count_theoretical,
    iter_completions,
    rule_from_json,
    violations,
)


@pytest.mark.parametrize(
    ("cuts", "labels", "macs", "theoretical", "usable"),
    [
        (5, "0123456789", 7, 100_000, 79_666),  # theoretical: Lockwiki, "Differs"
        (6, "0123456789", 7, 1_000_000, 753_754),  # see the transfer matrix below
        (5, "123456", 4, 7_776, 6_306),  # a(n) = 5 a(n-1) + 4 a(n-2)
        (5, "1234567", 4, 16_807, 10_483),  # OEIS A126502, a(5)
        (8, "1234", 2, 65_536, 28_642),  # theoretical: an owners' weblog
        (6, "0123456789", 1, 1_000_000, 1_922),  # OEIS A126364, a(6)
        (6, "0123456789", 4, 1_000_000, 198_034),  # OEIS A126505, a(6)
    ],
)
def test_counts_are_the_published_ones(cuts: int, labels: str, macs: int, theoretical: int, usable: int) -> None:
    for increment in ("0.4", "-0.4"):
        system = a_system(cuts, labels, macs, increment=increment)
        assert count_theoretical(system) == theoretical
        assert count_bittings(system) == usable


def test_a_count_is_the_power_of_the_transfer_matrix() -> None:
    # Textbook: walks of a given length are counted by powers of the adjacency matrix.
    for depths, macs, cuts in ((10, 7, 6), (7, 4, 5), (4, 2, 8), (9, 3, 7)):
        number = np.arange(depths)
        beside = (abs(number[:, None] - number) <= macs).astype(np.int64)
        labels = "0123456789"[:depths]
        walks = int(np.linalg.matrix_power(beside, cuts - 1).sum())
        assert count_bittings(a_system(cuts, labels, macs)) == walks


def test_counts_of_growing_keys_are_the_published_sequences() -> None:
    # OEIS A126364 and A126505: base 10, neighbours differ by at most 1 and 4.
    for macs, terms in ((1, [10, 28, 80, 230, 664, 1922]), (4, [10, 70, 510, 3720, 27142, 198034])):
        assert [count_bittings(a_system(cuts, "0123456789", macs)) for cuts in range(1, 7)] == terms


def test_macs_counts_neighbours_and_allows_its_own_size() -> None:
    # MACS 7 allows 2 beside 9; MACS 4 allows 1-5 and forbids 1-6 (trade references).
    seven = a_system(2, "0123456789", 7)
    assert violations(seven, ("2", "9")) == []
    assert [found.positions for found in violations(seven, ("1", "9"))] == [(1, 2)]
    four = a_system(3, "123456", 4)
    assert violations(four, ("1", "5", "1")) == []
    found = violations(four, ("5", "1", "6"))
    assert [(each.rule, each.position) for each in found] == [("macs", 2)]
    assert str(found[0]) == "Cut 2 and cut 3: 1 beside 6 is a step of 5; MACS allows 4."


def test_macs_does_not_cross_from_edge_to_edge() -> None:
    system = a_system(2, "1234", 1, layout="two independent edges")
    assert violations(system, "1243") == []
    assert [found.positions for found in violations(system, "1341")] == [(1, 2), (3, 4)]
    assert "Edge 2 cut 1 and edge 2 cut 2" in violations(system, "1241")[0].words
    one_edge = count_bittings(a_system(2, "1234", 1))
    assert count_bittings(system) == one_edge**2


@pytest.mark.parametrize(
    ("rule", "bad", "positions"),
    [
        ({"rule": "even_sum"}, "1112", (1, 2, 3, 4)),
        ({"rule": "odd_sum"}, "1111", (1, 2, 3, 4)),
        ({"rule": "sum_between", "low": 5, "high": 6}, "2221", (1, 2, 3, 4)),
        ({"rule": "max_equal_run", "n": 2}, "1222", (2, 3, 4)),
        ({"rule": "max_of_depth", "label": "2", "n": 1}, "2132", (1, 4)),
        ({"rule": "forbidden_first", "labels": ["1"]}, "1222", (1,)),
        ({"rule": "forbidden_last", "labels": ["1"]}, "2221", (4,)),
        ({"rule": "forbidden_at", "position": 3, "labels": ["2"]}, "2122", (3,)),
        ({"rule": "forbidden_neighbours", "pairs": [["1", "3"]]}, "2311", (2, 3)),
        ({"rule": "min_different", "n": 3}, "1212", (1, 2, 3, 4)),
        ({"rule": "min_spread", "n": 2}, "1212", (1, 2, 3, 4)),
    ],
)
def test_a_broken_rule_is_named_by_place(rule: dict[str, Any], bad: str, positions: tuple[int, ...]) -> None:
    system = a_system(4, "123", rules=[rule])
    found = violations(system, bad)
    assert [(each.rule, each.positions) for each in found] == [(rule["rule"], positions)]
    assert found[0].words.endswith(".")


def test_shape_faults_are_violations_too() -> None:
    system = a_system(4, "123")
    assert [(each.rule, each.position) for each in violations(system, "1x29")] == [("label", 2), ("label", 4)]
    assert [(each.rule, each.positions) for each in violations(system, "12")] == [("length", (3, 4))]
    assert [(each.rule, each.positions) for each in violations(system, "12312")] == [("length", (5,))]


@pytest.mark.parametrize("rule", RULES)
def test_rules_survive_json(rule: dict[str, Any]) -> None:
    assert rule_from_json(rule).to_json() == rule


@given(small_systems())
@settings(max_examples=60, deadline=None)
def test_counts_equal_enumeration_by_violations(system: KeySystem) -> None:
    usable = [bitting for bitting in every_bitting(system) if not violations(system, bitting)]
    assert count_bittings(system) == len(usable)
    assert completions(system, [None] * system.cuts) == usable


@given(small_systems(), st.data())
@settings(max_examples=60, deadline=None)
def test_completions_are_the_usable_bittings_with_the_known_cuts(system: KeySystem, data: st.DataObject) -> None:
    known = data.draw(st.tuples(*[st.sampled_from([None, *system.labels])] * system.cuts))
    wanted = [
        bitting
        for bitting in every_bitting(system)
        if not violations(system, bitting)
        and all(label in (None, cut) for label, cut in zip(known, bitting, strict=True))
    ]
    assert completions(system, known) == wanted
    assert list(iter_completions(system, known)) == wanted
    assert count_completions(system, known) == len(wanted)
    book = [*wanted[::2], ("1",) * system.cuts, ("9",) * system.cuts, ("1",)]
    assert completions(system, known, code_book=book) == [bitting for bitting in wanted if bitting in book]


def test_known_cuts_that_do_not_fit_are_refused_by_place() -> None:
    system = a_system(4, "123")
    for known, position in ((["1", "9", None, None], 2), (["1"], 2), ([None] * 5, 5)):
        with pytest.raises(BadBitting) as refused:
            completions(system, known)
        assert refused.value.position == position


def test_a_huge_list_is_counted_and_refused() -> None:
    system = a_system(10, "0123456789", 7)
    with pytest.raises(TooManyBittings) as refused:
        completions(system, [None] * 10)
    assert refused.value.count == count_bittings(system) == count_completions(system, [None] * 10)
    assert len(completions(system, [*"123456789", None], limit=10)) == 8


def test_known_cuts_that_break_macs_leave_nothing() -> None:
    assert completions(a_system(4, "123456", 2), ["1", "6", None, None]) == []
