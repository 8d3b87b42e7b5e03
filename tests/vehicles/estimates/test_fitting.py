"""What the model learns, and what it does not fall for."""

import math
from random import Random
from statistics import geometric_mean

import pytest

from vehicles.estimates import Estimate, Observation, fit, quarters

USUAL = {"lock_out": 30, "rekey": 55}


def jobs(count: int, minutes: float, *, seed: int = 1, spread: float = 0.3, **of: str) -> list[Observation]:
    """Log-normal times round a median."""
    rng = Random(seed)
    what = {"kind": "lock_out", "make": "Brixo", "model": "Kite", **of}
    return [Observation(minutes * math.exp(rng.gauss(0, spread)), **what) for _ in range(count)]


def test_no_history_gives_the_price_books_minutes_in_a_wide_range() -> None:
    said = fit([], usual=USUAL).estimate(kind="rekey", make="Brixo")
    assert (said.minutes, said.jobs_behind) == (55, 0)
    assert said.low < 55 / 2 and said.high > 55 * 2
    assert said.words == "usually 55 min, from the price book, no such job yet"


def test_kind_in_neither_book_nor_history_takes_the_minutes_given() -> None:
    assert fit([]).estimate(kind="safe", usual=45).minutes == 45


def test_many_jobs_on_a_model_speak_for_themselves() -> None:
    model = fit(jobs(80, 52) + jobs(80, 25, model="Tarn"), usual=USUAL)
    said = model.estimate(kind="lock_out", make="Brixo", model="Kite")
    assert said.minutes == pytest.approx(52, rel=0.1)
    assert said.words == f"usually {said.minutes} min, 80 jobs on this model"
    # 80 % of a log-normal with sigma 0.3 lie within exp(1.2816 * 0.3) = 1.469 of its median.
    assert said.high / said.minutes == pytest.approx(1.469, rel=0.15)
    assert said.minutes / said.low == pytest.approx(1.469, rel=0.15)


def test_one_job_on_a_model_is_drawn_toward_its_make() -> None:
    seen = jobs(60, 30) + jobs(60, 32, model="Tarn", seed=2) + [Observation(120, "lock_out", "Brixo", "Vela")]
    model = fit(seen, usual=USUAL)
    one, none = (model.estimate(kind="lock_out", make="Brixo", model=name) for name in ("Vela", "Never seen"))
    assert none.minutes < one.minutes < 60
    assert one.words == f"usually {one.minutes} min, 1 job on this model, 121 on this make"
    assert none.words == f"usually {none.minutes} min, 121 jobs on this make"


def test_the_less_is_known_the_wider_is_the_range() -> None:
    seen = [each for n in range(6) for each in jobs(30, 25 + 4 * n, make=f"Make {n}", seed=n)]
    model = fit(seen, usual=USUAL)
    known = model.estimate(kind="lock_out", make="Make 1", model="Kite")
    asked = [known, model.estimate(kind="lock_out", make="Make 1"), model.estimate(kind="lock_out", make="Other")]
    widths = [math.log(each.high / each.low) for each in [*asked, model.estimate(kind="rekey")]]
    assert widths == sorted(widths) and len(set(widths)) == 4


def test_names_are_the_same_however_typed() -> None:
    model = fit(jobs(20, 40, make=" BRIXO", model="Tarn  Estate"), usual=USUAL)
    assert model.estimate(kind="lock_out", make="brixo", model="tarn estate").jobs_behind == 20


def test_jobs_without_a_vehicle_are_a_group_of_their_own() -> None:
    model = fit(jobs(40, 20, make="", model="") + jobs(40, 45), usual=USUAL)
    said = model.estimate(kind="lock_out")
    assert said.minutes == pytest.approx(20, rel=0.15)
    assert said.basis == "40 jobs with no vehicle told"


@pytest.mark.parametrize("count", [1, 3, 12])
def test_forgotten_finish_hardly_moves_the_estimate(count: int) -> None:
    """14 hours on one job in a group of 1, 3 or 12."""

    def with_last(minutes: float) -> Estimate:
        seen = [*jobs(60, 30), *jobs(count - 1, 40, model="Tarn", seed=5)]
        model = fit([*seen, Observation(minutes, "lock_out", "Brixo", "Tarn")], usual=USUAL)
        return model.estimate(kind="lock_out", make="Brixo", model="Tarn")

    honest, forgotten = with_last(50), with_last(14 * 60)
    assert forgotten.minutes <= honest.minutes * 1.35
    assert forgotten.high <= honest.high * 1.5
    # An hour longer forgotten changes nothing: what is wild counts by its side alone.
    assert with_last(15 * 60) == forgotten


def test_wild_times_do_not_widen_the_range_of_the_rest() -> None:
    calm = fit(jobs(200, 30), usual=USUAL).estimate(kind="lock_out", make="Brixo", model="Kite")
    wild = [Observation(840, "lock_out", "Brixo", "Kite")] * 8
    said = fit(jobs(200, 30) + wild, usual=USUAL).estimate(kind="lock_out", make="Brixo", model="Kite")
    assert said.minutes == pytest.approx(calm.minutes, abs=2)
    assert said.high == pytest.approx(calm.high, rel=0.12)


def test_quick_technician_is_estimated_shorter_and_a_stranger_as_anybody() -> None:
    seen = [
        Observation(each.minutes * factor, each.kind, each.make, each.model, who)
        for who, factor, seed in (("quick", 0.75, 1), ("even", 1.0, 2), ("slow", 1.3, 3))
        for each in jobs(60, 40, seed=seed)
    ]
    model = fit(seen, usual=USUAL)
    quick, stranger, slow = (
        model.estimate(kind="lock_out", make="Brixo", model="Kite", technician=who) for who in ("quick", "new", "slow")
    )
    assert quick.minutes < stranger.minutes < slow.minutes
    assert slow.minutes / quick.minutes == pytest.approx(1.3 / 0.75, rel=0.15)
    assert math.log(stranger.high / stranger.low) > math.log(quick.high / quick.low)


def test_technicians_alike_differ_less_than_their_averages() -> None:
    seen = [Observation(each.minutes, "lock_out", "Brixo", "Kite", n % 3) for n, each in enumerate(jobs(240, 40))]
    model = fit(seen, usual=USUAL)
    averages = [geometric_mean(each.minutes for each in seen if each.technician == who) for who in range(3)]
    effects = [model.technicians[who].mean for who in range(3)]
    assert 0 < max(effects) - min(effects) < 0.8 * math.log(max(averages) / min(averages))


def test_minutes_of_nothing_are_left_out() -> None:
    useless = [Observation(0, "lock_out"), Observation(-30, "lock_out")]
    assert fit(useless, usual=USUAL) == fit([], usual=USUAL)


def test_order_of_the_jobs_does_not_matter() -> None:
    seen = jobs(30, 40) + jobs(20, 60, make="Aldren", seed=3)
    ahead, back = fit(seen, usual=USUAL), fit(seen[::-1], usual=USUAL)
    assert ahead.nodes.keys() == back.nodes.keys()
    for key, node in ahead.nodes.items():
        assert node.mean == pytest.approx(back.nodes[key].mean, abs=1e-9)


@pytest.mark.parametrize(
    ("estimate", "words", "booked"),
    [
        (Estimate(52, 38, 73, 14, "14 jobs on this model"), "usually 52 min, 40 to 75", 60),
        (Estimate(60, 41, 88, 3, ""), "usually 60 min, 40 to 90", 60),
        (Estimate(9, 2, 13, 3, ""), "usually 9 min, 5 to 15", 15),
    ],
)
def test_range_is_told_in_fives_and_booked_in_quarters(estimate: Estimate, words: str, booked: int) -> None:
    assert (estimate.range_words, quarters(estimate.minutes)) == (words, booked)


def test_line_tells_minutes_range_and_what_stands_behind() -> None:
    said = Estimate(52, 38, 73, 14, "14 jobs on this model")
    assert said.line == "Usually 52 min on site, 40 to 75 (14 jobs on this model)"
