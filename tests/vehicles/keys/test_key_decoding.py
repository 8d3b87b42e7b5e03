"""From readings to candidates: both sides of a reading, ranking, units, what to read next."""

from __future__ import annotations

import math
import random
from decimal import Decimal
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import skewnorm

from tests.vehicles.keys.key_samples import a_system
from vehicles.keys import (
    BadBitting,
    BadReadings,
    Bitting,
    KeySystem,
    UnitsDoubt,
    WearModel,
    decode,
    inch,
    violations,
)


def roots(system: KeySystem, bitting: str) -> list[Decimal]:
    return [system.root_depths_mm[label] for label in bitting]


@pytest.mark.parametrize("increment", ["0.4", "-0.4"])
def test_exact_readings_give_the_bitting_first(increment: str) -> None:
    system = a_system(5, "0123456789", increment=increment)
    found = decode(system, roots(system, "30719"), tolerance_mm=0.1)
    assert [candidate.bitting for candidate in found] == [tuple("30719")]
    assert found[0].weight == pytest.approx(1)
    assert found.next_readings == ()


@pytest.mark.parametrize(("increment", "deeper", "shallower"), [("0.4", "4", "3"), ("-0.4", "3", "4")])
def test_a_reading_between_two_depths_is_both_and_rather_the_deeper(
    increment: str, deeper: str, shallower: str
) -> None:
    # A worn key reads shallow of true by fractions of a depth (trade references).
    system = a_system(2, "123456", increment=increment)
    middle = sum(roots(system, "34")) / 2
    for tolerance in ("0.05", "0.2", "0.3", None):
        found = decode(system, [system.root_depths_mm["1"], middle], tolerance_mm=tolerance)
        assert [candidate.bitting[1] for candidate in found][:2] == [deeper, shallower]
        assert found[0].weight > 2 * found[1].weight > 0
    lock = decode(system, [system.root_depths_mm["1"], middle], tolerance_mm="0.2", worn=False)
    assert lock[0].weight == pytest.approx(lock[1].weight)


def test_the_side_of_the_error_matters() -> None:
    system = a_system(1, "123456")
    root = system.root_depths_mm["3"]
    shallow = {choice.label: choice.share for choice in decode(system, [root + Decimal("0.12")]).choices[0]}
    deep = {choice.label: choice.share for choice in decode(system, [root - Decimal("0.12")]).choices[0]}
    assert shallow["3"] > 0.9
    assert "4" not in shallow
    assert deep["4"] > deep["3"] / 3


def test_the_wear_model_is_the_distribution_it_says() -> None:
    model = WearModel(noise_mm=0.05, wear_mm=0.1, step_mm=0.4, slips=0.1)
    whole = skewnorm(2, 0, math.hypot(0.05, 0.1))
    for error in (-0.2, -0.01, 0, 0.07, 0.3):
        even = 0.1 / 0.8
        assert model.density(error) == pytest.approx(0.9 * whole.pdf(error) + even)
        assert model.share_below(error) == pytest.approx(0.9 * whole.cdf(error) + even * (error + 0.4))
    assert quad(model.density, -0.4, 0.4)[0] == pytest.approx(0.9 * whole.cdf(0.4) + 0.1, abs=1e-6)
    assert model.rate_within(0.35) == pytest.approx(quad(model.density, -0.35, 0.35)[0], abs=1e-6)


@pytest.mark.parametrize("tolerance", ["0.1", "0.2", "0.3"])
def test_a_simulated_worn_key_is_among_the_candidates_at_the_stated_rate(tolerance: str) -> None:
    system = a_system(5, "0123456789", 7)
    model = WearModel.for_step(0.4)
    draw = random.Random(5)
    hits, runs, stated = 0, 600, 0.0
    for _ in range(runs):
        key = "".join(draw.choices("2345", k=5))
        readings = []
        for root in roots(system, key):
            slipped = draw.random() < model.slips
            worn = draw.gauss(0, model.noise_mm) + abs(draw.gauss(0, model.wear_mm))
            readings.append(float(root) + (draw.uniform(-0.4, 0.4) if slipped else worn))
        found = decode(system, readings, tolerance_mm=tolerance)
        stated = found.stated_rate
        hits += tuple(key) in [candidate.bitting for candidate in found]
    # Three standard errors of a share of 600 runs; a reading that fits none and lies between
    # two depths is kept as both, so the rate may well be better than stated.
    assert hits / runs >= stated - 3 * math.sqrt(stated * (1 - stated) / runs)
    assert stated > 0.75


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_candidates_are_all_fitting_bittings_ranked_by_likelihood(data: st.DataObject) -> None:
    system = a_system(4, "12345", 2, rules=[{"rule": "max_equal_run", "n": 2}])
    reading = st.one_of(st.none(), st.decimals("6.4", "8", places=2))
    readings = data.draw(st.lists(reading, min_size=4, max_size=4))
    found = decode(system, readings, tolerance_mm="0.45")
    shares = [{choice.label: choice.share for choice in choices} for choices in found.choices]
    weights: dict[Bitting, float] = {
        bitting: math.prod(share[label] for share, label in zip(shares, bitting, strict=True))
        for bitting in product(*shares)
        if not violations(system, bitting)
    }
    assert found.remaining == len(weights)
    assert {candidate.bitting for candidate in found} == set(weights)
    total = sum(weights.values())
    for candidate in found:
        assert candidate.weight == pytest.approx(weights[candidate.bitting] / total)
    assert all(one.weight >= two.weight * (1 - 1e-9) for one, two in pairwise(found))
    for bits in found.next_readings:
        chance: dict[str, float] = {}
        count: dict[str, int] = {}
        for bitting, weight in weights.items():
            label = bitting[bits.position - 1]
            chance[label] = chance.get(label, 0) + weight / total
            count[label] = count.get(label, 0) + 1
        assert bits.bits == pytest.approx(-sum(p * math.log2(p) for p in chance.values()))
        assert bits.expected_remaining == pytest.approx(sum(p * count[label] for label, p in chance.items()))


def test_the_code_book_cuts_the_candidates_down() -> None:
    system = a_system(3, "12345")
    readings = [system.root_depths_mm["2"], None, system.root_depths_mm["4"]]
    book = ["234", "254", "114", ("2", "9", "4"), "22"]
    found = decode(system, readings, tolerance_mm="0.1", code_book=book)
    assert sorted(candidate.bitting for candidate in found) == [tuple("234"), tuple("254")]
    assert found.remaining == 2
    assert sum(candidate.weight for candidate in found) == pytest.approx(1)
    assert found.best_next_reading is not None
    assert (found.best_next_reading.position, found.best_next_reading.bits) == (2, pytest.approx(1))
    assert found.best_next_reading.expected_remaining == pytest.approx(1)


def test_unread_cuts_leave_all_counted_and_the_best_listed() -> None:
    system = a_system(8, "123456", 4)
    found = decode(system, [*roots(system, "12"), *[None] * 6], tolerance_mm="0.1", limit=50)
    assert len(found) == 50
    assert found.remaining > 10_000
    assert found.listed_weight == pytest.approx(sum(candidate.weight for candidate in found))
    assert {reading.position for reading in found.next_readings} == set(range(3, 9))


def test_readings_that_no_key_can_have_say_why() -> None:
    system = a_system(3, "123456", 2)
    found = decode(system, roots(system, "165"), tolerance_mm="0.1")
    assert list(found) == []
    assert found.remaining == 0
    assert [each.positions for each in found.why_none] == [(1, 2)]


def test_readings_in_another_unit_are_recognised() -> None:
    system = a_system(4, "123456")
    true = roots(system, "1352")
    for unit, readings in (
        ("in", [round(root / Decimal("25.4"), 3) for root in true]),
        ("thou", [round(root / Decimal("0.0254")) for root in true]),
        ("mm", [inch(root) for root in true]),
    ):
        with pytest.raises(UnitsDoubt) as doubt:
            decode(system, [*readings[:3], None], tolerance_mm="0.1")
        assert doubt.value.unit == unit
        assert doubt.value.readings_mm[3] is None
        assert "Is that so?" in str(doubt.value)
        assert decode(system, doubt.value.readings_mm, tolerance_mm="0.1")[0].bitting[:3] == tuple("135")


def test_readings_beyond_all_depths_are_refused_by_place() -> None:
    system = a_system(3, "123456")
    with pytest.raises(BadReadings) as refused:
        decode(system, ["8", "9.5", "1"], tolerance_mm="0.1")
    assert refused.value.positions == (2, 3)
    assert "cut 2 (9.5 mm)" in str(refused.value)
    with pytest.raises(BadReadings):
        decode(system, ["8", "wide", "7"])
    with pytest.raises(BadBitting):
        decode(system, ["8", "7"])
