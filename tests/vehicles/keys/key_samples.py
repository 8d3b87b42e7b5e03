"""Key systems for the tests, and hypothesis strategies that draw small ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any

from hypothesis import strategies as st

from vehicles.keys import Bitting, KeySystem, even_depths, even_positions


def a_system(cuts: int, labels: Sequence[str], macs: int | None = None, **more: Any) -> KeySystem:
    """An invented system: 2.5 mm spacing, 0.4 mm steps falling with the label."""
    return KeySystem(
        name="Alder",
        positions_mm=even_positions("4", "2.5", cuts),
        root_depths_mm=even_depths(labels, "8", more.pop("increment", "0.4")),
        macs=macs,
        **more,
    )


def every_bitting(system: KeySystem) -> Iterator[Bitting]:
    """All label combinations, obeying nothing."""
    return product(system.labels, repeat=system.cuts)


def can_share(system: KeySystem, first: Bitting, then: Bitting) -> bool:
    """Whether `then` can be cut on a blank already cut to `first`: nowhere more blade left."""
    root = system.root_depths_mm
    return all(root[b] <= root[a] for a, b in zip(first, then, strict=True))


RULES: list[dict[str, Any]] = [
    {"rule": "even_sum"},
    {"rule": "odd_sum"},
    {"rule": "sum_between", "low": 4, "high": 9},
    {"rule": "max_equal_run", "n": 1},
    {"rule": "max_equal_run", "n": 2},
    {"rule": "max_of_depth", "label": "2", "n": 1},
    {"rule": "forbidden_first", "labels": ["1"]},
    {"rule": "forbidden_last", "labels": ["1", "3"]},
    {"rule": "forbidden_at", "position": 2, "labels": ["2"]},
    {"rule": "forbidden_neighbours", "pairs": [["1", "3"]]},
    {"rule": "min_different", "n": 2},
    {"rule": "min_spread", "n": 2},
]


@st.composite
def small_systems(draw: st.DrawFn) -> KeySystem:
    """Up to four cuts of three or four depths, rising or falling, any layout, with rules."""
    labels = draw(st.sampled_from(["123", "1234", "2134"]))
    return a_system(
        draw(st.integers(2, 4)),
        sorted(labels),
        draw(st.sampled_from([None, 1, 2])),
        increment=draw(st.sampled_from(["0.4", "-0.4"])),
        rules=draw(st.lists(st.sampled_from(RULES), max_size=2)),
        layout=draw(st.sampled_from(["one edge", "two mirrored edges"])),
    )


@st.composite
def systems_with_candidates(draw: st.DrawFn, most: int = 9) -> tuple[KeySystem, list[Bitting]]:
    """A system of three cuts, rising or falling, and some different bittings of it."""
    system = a_system(3, "1234", increment=draw(st.sampled_from(["0.4", "-0.4"])))
    bitting = st.tuples(*[st.sampled_from(system.labels)] * 3)
    return system, draw(st.lists(bitting, min_size=1, max_size=most, unique=True))
