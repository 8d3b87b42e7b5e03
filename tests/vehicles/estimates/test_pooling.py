"""Partial pooling against published computations."""

import math
from statistics import NormalDist

import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import t as student_t

from vehicles.estimates.pooling import Measured, log_likelihood, pooled, shrunk, spread_between, tau_weights
from vehicles.estimates.spread import t_reach

# Thirteen trials of the BCG vaccine: ill and well with it, ill and well without. Colditz et al., JAMA 271, 1994.
TRIALS = [
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
    (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
]  # fmt: skip


def log_relative_risk(a: int, b: int, c: int, d: int) -> Measured:
    return Measured(math.log(a / (a + b) * (c + d) / c), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))


def log_odds_ratio(a: int, b: int, c: int, d: int) -> Measured:
    return Measured(math.log(a * d / (b * c)), 1 / a + 1 / b + 1 / c + 1 / d)


@pytest.mark.parametrize(
    ("measure", "tau_squared", "mean", "error"),
    [
        # W. Viechtbauer, metafor (R), rma() with its default REML on dat.bcg, measures RR and OR.
        (log_relative_risk, 0.3132, -0.7145, 0.1798),
        (log_odds_ratio, 0.3378, -0.7452, 0.1860),
    ],
)
def test_likeliest_tau_is_that_of_restricted_likelihood(
    measure: object, tau_squared: float, mean: float, error: float
) -> None:
    trials = [measure(*each) for each in TRIALS]  # type: ignore[operator]
    found = minimize_scalar(
        lambda tau: -log_likelihood([trials], tau), bounds=(0.01, 2), method="bounded", options={"xatol": 1e-8}
    )
    centre = pooled(trials, found.x)
    assert found.x**2 == pytest.approx(tau_squared, abs=5e-5)
    assert centre.mean == pytest.approx(mean, abs=5e-5)
    assert math.sqrt(centre.variance) == pytest.approx(error, abs=5e-5)


# Eight schools, effects and standard errors: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, table 5.2.
SCHOOLS = [
    Measured(effect, error**2)
    for effect, error in [(28, 15), (8, 10), (-3, 16), (7, 11), (-1, 9), (1, 11), (18, 10), (12, 18)]
]
# Table 5.3 there: lower quartile, median and upper quartile of each school's true effect, from 200 simulation draws.
QUARTILES = [(7, 10, 16), (3, 8, 12), (2, 7, 11), (4, 8, 11), (1, 5, 10), (2, 6, 10), (7, 10, 15), (3, 8, 13)]


@pytest.mark.parametrize("school", range(8))
def test_true_effects_of_eight_schools(school: int) -> None:
    grid = [step / 4 for step in range(1, 400)]
    weights = tau_weights([SCHOOLS], grid)
    parts = [shrunk(SCHOOLS[school], pooled(SCHOOLS, tau), tau) for tau in grid]
    normals = [NormalDist(part.mean, math.sqrt(part.variance)) for part in parts]
    for part, told in zip((0.25, 0.5, 0.75), QUARTILES[school], strict=True):
        below = sum(weight * normal.cdf(told) for weight, normal in zip(weights, normals, strict=True))
        # The table is rounded to whole points, and 200 draws leave a standard error of 0.03 to 0.035.
        assert below == pytest.approx(part, abs=0.08)


def test_all_schools_alike_have_the_mean_and_variance_of_complete_pooling() -> None:
    # Gelman et al. 2013, section 5.5: 7.7 with variance 16.6, from the rounded figures of table 5.2.
    alike = pooled(SCHOOLS, 0)
    assert (round(alike.mean, 1), round(alike.variance, 1)) == (7.7, 16.6)


@pytest.mark.parametrize(("average", "drawn"), [(0.400, 0.294), (0.156, 0.242)])
def test_baseball_averages_are_drawn_in_as_by_efron_and_morris(average: float, drawn: float) -> None:
    # B. Efron and C. Morris, Stein's paradox in statistics, Scientific American 236, 1977: grand average 0.265, factor
    # 0.212, Clemente 0.400 and Alvis 0.156 after 45 times at bat.
    variance = 0.265 * 0.735 / 45
    tau = math.sqrt(variance * 0.212 / 0.788)
    assert round(shrunk(Measured(average, variance), Measured(0.265, 0), tau).mean, 3) == drawn


def test_groups_exactly_alike_have_hardly_any_spread_between_them() -> None:
    alike = [Measured(1.0, 0.01)] * 12
    apart = [Measured(n / 4, 0.01) for n in range(12)]
    assert spread_between([alike], likely=0.3) < 0.06
    assert spread_between([apart], likely=0.3) > 0.6


def test_one_group_leaves_the_likely_spread() -> None:
    # The mean of the square of a half-normal variable is its scale squared.
    assert spread_between([[Measured(3.0, 0.5)]], likely=0.2) == pytest.approx(0.2, rel=0.01)


@pytest.mark.parametrize("degrees", [10, 15.5, 40, 1000])
def test_reach_is_the_percentile_of_students_t(degrees: float) -> None:
    assert t_reach(degrees) == pytest.approx(float(student_t.ppf(0.9, degrees)), abs=1e-4)
