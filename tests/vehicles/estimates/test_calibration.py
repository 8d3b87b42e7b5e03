"""Ranges and errors on times that the model's own formula did not make."""

import pytest

from vehicles.estimates import Observation, check_held_out, check_shops
from vehicles.estimates.invented import USUAL, invented_visits


def shops(count: int) -> list[tuple[list[Observation], list[Observation]]]:
    """Four invented shops with so many visits to learn from, and 600 to foretell."""
    made = [invented_visits(count + 600, seed=seed) for seed in (11, 12, 13, 14)]
    return [(each[:count], each[count:]) for each in made]


@pytest.mark.parametrize("count", [150, 800])
def test_ranges_hold_and_the_error_beats_the_plain_average(count: int) -> None:
    """The bounds are the shop's own: four of five, give or take one in twenty."""
    line = check_shops(shops(count), usual=USUAL)[-1]
    assert line.jobs == 2400
    assert 0.75 <= line.coverage <= 0.85
    assert 0.06 <= line.above / line.jobs <= 0.14
    assert line.error < line.plain_error


def test_every_shop_and_every_kind_of_work_gains_on_the_plain_average() -> None:
    for seen, held_out in shops(800):
        assert check_held_out(seen, held_out, usual=USUAL)[-1].gain > 0
    for line in check_shops(shops(800), usual=USUAL):
        # One kind has 155 jobs only: chance alone moves its part by 3 in a hundred.
        assert 0.7 <= line.coverage <= 0.9, line
        assert line.gain > 0


def test_check_counts_sides_and_errors() -> None:
    seen = [Observation(30, "lock_out", "Brixo", "Kite")] * 40
    held_out = [Observation(minutes, "lock_out", "Brixo", "Kite") for minutes in (30, 30, 4, 400)]
    line = check_held_out(seen, held_out, usual={"lock_out": 30})[-1]
    assert (line.kind, line.jobs, line.inside, line.below, line.above) == ("", 4, 2, 1, 1)
    assert line.error == line.plain_error == (0 + 0 + 26 + 370) / 4


def test_nothing_held_out_makes_no_lines() -> None:
    assert check_held_out([], []) == []
