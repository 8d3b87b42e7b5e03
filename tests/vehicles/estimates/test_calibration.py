"""Ranges and errors on times that the model's own formula did not make."""

import pytest

from vehicles.estimates import Observation, check_held_out
from vehicles.estimates.invented import USUAL, invented_visits


@pytest.mark.parametrize("count", [300, 800])
def test_ranges_hold_and_the_error_beats_the_plain_average(count: int) -> None:
    """The bounds are the shop's own: four of five, give or take one in twenty; four shops, with as many jobs to learn
    from and 600 to foretell, taken together."""
    made = [invented_visits(count + 600, seed=seed) for seed in (11, 12, 13, 14)]
    lines = [check_held_out(each[:count], each[count:], usual=USUAL)[-1] for each in made]
    held = sum(line.inside for line in lines) / sum(line.jobs for line in lines)
    above = sum(line.above for line in lines) / sum(line.jobs for line in lines)
    assert 0.75 <= held <= 0.85
    assert 0.06 <= above <= 0.14
    for line in lines:
        assert line.error < line.plain_error


def test_every_kind_of_work_gains_on_the_plain_average() -> None:
    made = invented_visits(2600, seed=11)
    for line in check_held_out(made[:1600], made[1600:], usual=USUAL):
        assert 0.7 < line.coverage < 0.9
        assert line.gain > 0


def test_check_counts_sides_and_errors() -> None:
    seen = [Observation(30, "lock_out", "Brixo", "Kite")] * 40
    held_out = [Observation(minutes, "lock_out", "Brixo", "Kite") for minutes in (30, 30, 4, 400)]
    line = check_held_out(seen, held_out, usual={"lock_out": 30})[-1]
    assert (line.kind, line.jobs, line.inside, line.below, line.above) == ("", 4, 2, 1, 1)
    assert line.error == line.plain_error == (0 + 0 + 26 + 370) / 4


def test_nothing_held_out_makes_no_lines() -> None:
    assert check_held_out([], []) == []
