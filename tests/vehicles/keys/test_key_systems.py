"""Published key systems come out as published, and impossible ones are refused in words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.vehicles.keys.key_samples import a_system
from vehicles.keys import (
    BadLength,
    BadRule,
    ImpossibleSystem,
    KeySystem,
    cutting_lines,
    even_depths,
    even_positions,
    inch,
    mm,
    parse_bitting,
    reading_groups,
    to_inch,
)

# Schlage: Allegion knowledge base "What is Schlage combinating rule 15?" (increment, spacing);
#   LockPicking101 topic 57422, July 2013 (depths, first cut).
# Kwikset: LockPicking101 topic 57422; increment also in Kwikset's rekeying text.
# Arrow: GBPPR lock tips table; Lock Pin Sizes wiki (atomicradi.us).
# Emhart System 70: Lock & Safe Systems; GBPPR.
PUBLISHED = [
    ("Schlage", 6, ".231", ".1562", "0123456789", ".335 .320 .305 .290 .275 .260 .245 .230 .215 .200", ".015", 7),
    ("Kwikset", 6, ".247", ".150", "123456", ".329 .306 .283 .260 .237 .214", ".023", 4),
    ("Arrow", 7, ".265", ".155", "0123456789", ".312 .298 .284 .270 .256 .242 .228 .214 .200 .186", ".014", 7),
    ("Emhart System 70", 6, ".25", ".156", "23456", ".305 .277 .249 .221 .193", ".028", 4),
]


@pytest.mark.parametrize(("name", "cuts", "first", "spacing", "labels", "roots", "step", "macs"), PUBLISHED)
def test_published_depths_are_an_even_progression_kept_without_loss(
    name: str, cuts: int, first: str, spacing: str, labels: str, roots: str, step: str, macs: int
) -> None:
    published = dict(zip(labels, roots.split(), strict=True))
    assert even_depths(labels, roots.split()[0], step) == {k: Decimal(v) for k, v in published.items()}
    system = KeySystem.from_inches(
        name=name,
        positions_in=even_positions(first, spacing, cuts),
        root_depths_in=published,
        macs=macs,
    )
    lines = cutting_lines(system, labels[:cuts] if len(labels) >= cuts else labels[0] * cuts)
    assert [line.at_in for line in lines] == [Decimal(first) + Decimal(spacing) * i for i in range(cuts)]
    assert {label: to_inch(root) for label, root in system.root_depths_mm.items()} == {
        label: Decimal(root) for label, root in published.items()
    }
    assert system.smallest_step_mm == inch(step)
    assert [depth.rank for depth in system.depths] == list(range(len(labels)))


@pytest.mark.parametrize("value", [8, "8", " 8.0 ", 8.0, Decimal("8.00")])
def test_lengths_of_every_kind_are_read_exactly(value: Any) -> None:
    assert mm(value) == Decimal(8)


def test_inch_is_25_4_mm_and_goes_back_unchanged() -> None:
    # International yard and pound agreement, 1959.
    assert inch(1) == Decimal("25.4")
    assert inch(".1562") == Decimal("3.96748")
    assert mm(0.1) == Decimal("0.1")
    for thousandths in range(1, 1000):
        value = Decimal(thousandths) / 1000
        assert to_inch(inch(value)) == value


@pytest.mark.parametrize("value", ["", "8,5", "nan", float("inf"), True, None])
def test_what_is_no_length_is_refused(value: Any) -> None:
    with pytest.raises(BadLength):
        mm(value)


GOOD: dict[str, Any] = {
    "name": "Birch",
    "positions_mm": [4, 6.5, "9"],
    "root_depths_mm": {"1": 8, "2": 7.6, "3": "7.2"},
    "macs": 2,
}


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"root_depths_mm": {"1": 8, "2": 7.2, "3": 7.6}}, "root_depths_mm", "depth 3 is 7.6"),
        ({"root_depths_mm": {"1": 8, "2": 8, "3": 7}}, "root_depths_mm", "1 and 2 have the same"),
        ({"root_depths_mm": {"1": 8, "01": 7}}, "root_depths_mm", "same number"),
        ({"root_depths_mm": {}}, "root_depths_mm", "at least one"),
        ({"root_depths_mm": {"1": 8, "2": 0}}, "root_depths_mm", "above 0"),
        ({"root_depths_mm": {"1": "wide"}}, "root_depths_mm", "Depth 1"),
        ({"positions_mm": [4, 4, 9]}, "positions_mm", "position 2"),
        ({"positions_mm": [9, 6, 4]}, "positions_mm", "increase from the stop"),
        ({"positions_mm": []}, "positions_mm", "at least one"),
        ({"positions_mm": [-1, 4]}, "positions_mm", "wrong side"),
        ({"blade_length_mm": 8.9}, "positions_mm", "beyond the blade"),
        ({"blade_height_mm": 7.9}, "root_depths_mm", "more than the blade"),
        ({"macs": 0}, "macs", "every cut the same"),
        ({"macs": -1}, "macs", "every cut the same"),
        ({"macs": 1.5}, "macs", "whole number"),
        ({"stop": "middle"}, "stop", "shoulder or tip"),
        ({"angle_deg": 180}, "angle_deg", "below 180"),
        ({"flat_mm": 0}, "flat_mm", "above 0"),
        ({"locks": {"door": [1, 4]}}, "locks", "between 1 and 3"),
        ({"locks": {"door": []}}, "locks", "between 1 and 3"),
        ({"layout": "three edges"}, "layout", "one edge"),
        ({"second_edge_mm": [4, 5]}, "second_edge_mm", "independent"),
    ],
)
def test_impossible_data_is_refused_with_a_reason(change: dict[str, Any], field: str, words: str) -> None:
    KeySystem(**GOOD)
    with pytest.raises(ImpossibleSystem) as refused:
        KeySystem(**{**GOOD, **change})
    assert refused.value.field == field
    assert words in str(refused.value)


@pytest.mark.parametrize(
    "rule",
    [
        {"rule": "lucky"},
        {"rule": "max_equal_run"},
        {"rule": "max_equal_run", "n": 0},
        {"rule": "max_equal_run", "n": 3, "m": 3},
        {"rule": "forbidden_first", "labels": ["7"]},
        {"rule": "forbidden_first", "labels": "1"},
        {"rule": "forbidden_at", "position": 4, "labels": ["1"]},
        {"rule": "forbidden_neighbours", "pairs": [["1"]]},
        {"rule": "sum_between", "low": 5, "high": 4},
        {"rule": "min_different", "n": 4},
        {"rule": "min_spread", "n": 3},
        "even_sum",
    ],
)
def test_a_rule_that_cannot_be_is_refused(rule: Any) -> None:
    with pytest.raises(BadRule):
        KeySystem(**{**GOOD, "rules": [rule]})


def test_depth_numbers_are_the_labels_when_they_are_whole_numbers() -> None:
    by_number = KeySystem(name="Cedar", positions_mm=[1], root_depths_mm={"10": 5, "9": 6, "2": 8})
    assert [(depth.label, depth.number, depth.rank) for depth in by_number.depths] == [
        ("2", 2, 0),
        ("9", 9, 1),
        ("10", 10, 2),
    ]
    by_name = KeySystem(name="Cedar", positions_mm=[1], root_depths_mm={"C": 5, "B": 6, "A": 8})
    assert [(depth.label, depth.number, depth.rank) for depth in by_name.depths] == [
        ("C", 1, 2),
        ("B", 2, 1),
        ("A", 3, 0),
    ]


@pytest.mark.parametrize(
    ("stop", "reads", "outward"),
    [
        ("shoulder", None, True),
        ("tip", None, True),
        ("shoulder", "tip to bow", False),
        ("tip", "bow to tip", False),
        ("tip", "tip to bow", True),
    ],
)
def test_reading_direction_decides_which_cut_comes_first(stop: str, reads: str | None, outward: bool) -> None:
    system = KeySystem(**GOOD, stop=stop, reads=reads)
    assert system.distances_mm == (system.positions_mm if outward else system.positions_mm[::-1])


def test_independent_edges_follow_one_another() -> None:
    system = KeySystem(**GOOD, layout="two independent edges", second_edge_mm=[5, 7])
    assert system.cuts == 5
    assert [(spot.position, spot.edge, spot.cut) for spot in system.spots][2:] == [(3, 1, 3), (4, 2, 1), (5, 2, 2)]
    assert [line.at_mm for line in cutting_lines(system, "12312")] == [mm(v) for v in ("4", "6.5", "9", "5", "7")]
    assert KeySystem(**GOOD, layout="two independent edges").cuts == 6


def test_a_system_survives_json() -> None:
    system = KeySystem(
        **GOOD,
        rules=[{"rule": "even_sum"}, {"rule": "forbidden_neighbours", "pairs": [["1", "2"]]}],
        layout="two independent edges",
        second_edge_mm=["5.05", 7],
        locks={"driver's door": [1, 2], "ignition": range(1, 6)},
        angle_deg=100,
        stop="tip",
        unit="in",
        can_recut=False,
    )
    again = KeySystem.from_json(system.to_json())
    assert again == system
    assert again.rules == system.rules
    assert again != KeySystem(**GOOD)


def test_cuts_are_grouped_to_be_read_aloud() -> None:
    sizes = {5: [3, 2], 6: [3, 3], 7: [4, 3], 8: [4, 4], 10: [4, 3, 3]}
    for cuts, wanted in sizes.items():
        system = a_system(cuts, "123")
        assert [len(group) for group in reading_groups(system, "1" * cuts)] == wanted


def test_a_typed_bitting_is_read_with_its_unknown_cuts() -> None:
    system = a_system(5, "1234")
    assert parse_bitting(system, "12 ?-34") == ["1", "2", None, "3", "4"]
    long_labels = a_system(2, [str(number) for number in range(1, 12)])
    assert parse_bitting(long_labels, "11, 1") == ["11", "1"]
    lettered = a_system(2, "AB")
    assert parse_bitting(lettered, "b?") == ["B", None]
    with pytest.raises(ValueError, match="Cut 3: Alder has no depth 9"):
        parse_bitting(system, "129")
