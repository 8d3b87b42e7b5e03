"""The drawn edge is the lowest of all cuts, wherever they meet."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vehicles.keys.key_samples import a_system
from vehicles.keys import KeySystem, Profile, key_profile

BLADE: dict[str, Any] = {"flat_mm": 1, "angle_deg": 90, "blade_height_mm": 9, "blade_length_mm": 20}


def height_at(profile: Profile, x: float) -> float:
    points = profile.edges[0].points
    for (left, low), (right, high) in pairwise(points):
        if left <= x <= right and right > left:
            return low + (high - low) * (x - left) / (right - left)
    raise AssertionError(f"{x} is not on the blade")


def test_one_cut_is_a_flat_between_two_slopes() -> None:
    # 90 degrees: slopes rise 1 mm per mm, so from 7 to 9 takes 2 mm either side.
    system = KeySystem(name="Elm", positions_mm=[10], root_depths_mm={"1": 7}, **BLADE)
    drawn = key_profile(system, ["1"])
    wanted = [(0, 9), (7.5, 9), (9.5, 7), (10.5, 7), (12.5, 9), (20, 9)]
    assert drawn.edges[0].points == pytest.approx([pytest.approx(point) for point in wanted])
    assert drawn.outline[:2] == ((0, 0), (20, 0))
    assert drawn.assumed == ()


def test_neighbouring_cuts_meet_on_their_slopes() -> None:
    system = KeySystem(name="Elm", positions_mm=[8, 11], root_depths_mm={"1": 7, "2": 6}, **BLADE)
    points = key_profile(system, "11").edges[0].points
    # Flats end at 8.5 and begin at 10.5: the slopes meet half way, 1 mm up.
    assert any(point == pytest.approx((9.5, 8)) for point in points)
    uneven = key_profile(system, "12").edges[0].points
    assert any(point == pytest.approx((9, 7.5)) for point in uneven)


def test_a_cut_swallowed_by_its_neighbour_is_named() -> None:
    system = KeySystem(name="Elm", positions_mm=[8, 9.5], root_depths_mm={"1": 8, "2": 4}, **BLADE)
    assert key_profile(system, "12").swallowed == (1,)
    assert key_profile(system, "22").swallowed == ()


@given(st.lists(st.sampled_from("123456"), min_size=5, max_size=5), st.floats(0.01, 19.99))
@settings(max_examples=150, deadline=None)
def test_the_line_is_the_lowest_cutter_everywhere(bitting: list[str], x: float) -> None:
    system = a_system(5, "123456", **{**BLADE, "angle_deg": 80})
    drawn = key_profile(system, bitting)
    rise = 1 / math.tan(math.radians(40))
    lowest = min(
        9.0,
        *(
            float(system.root_depths_mm[label]) + rise * max(0.0, abs(x - float(at)) - 0.5)
            for label, at in zip(bitting, system.positions_mm, strict=True)
        ),
    )
    assert height_at(drawn, x) == pytest.approx(lowest, abs=1e-6)


def test_tip_stop_is_drawn_from_the_tip() -> None:
    system = a_system(2, "12", stop="tip", **BLADE)
    assert [mark.x for mark in key_profile(system, "12").edges[0].marks] == [16.0, 13.5]


def test_two_edges_lie_opposite() -> None:
    mirrored = key_profile(a_system(2, "12", layout="two mirrored edges", **BLADE), "12")
    top, bottom = mirrored.edges
    assert bottom.points == tuple((x, 9 - y) for x, y in top.points)
    assert mirrored.outline == (*bottom.points, *reversed(top.points))
    independent = key_profile(a_system(2, "12", layout="two independent edges", **BLADE), "1221")
    assert [mark.y for mark in independent.edges[0].marks] == pytest.approx([8, 7.6])
    assert [mark.y for mark in independent.edges[1].marks] == pytest.approx([9 - 7.6, 9 - 8])
    assert [mark.position for mark in independent.edges[1].marks] == [3, 4]


def test_a_track_runs_inside_a_whole_blade_from_flat_to_flat() -> None:
    drawn = key_profile(a_system(2, "123", layout="internal track", **BLADE), "13")
    wanted = [(0, 8), (4.5, 8), (6, 7.2), (20, 7.2)]
    assert drawn.edges[0].points == pytest.approx([pytest.approx(point) for point in wanted])
    assert drawn.outline == ((0, 0), (20, 0), (20, 9), (0, 9))


def test_dimensions_that_had_to_be_assumed_are_named() -> None:
    drawn = key_profile(a_system(3, "123"), "123")
    assert drawn.assumed == ("flat", "angle", "blade height", "blade length")
    assert drawn.height > 8
    assert drawn.length > 9
