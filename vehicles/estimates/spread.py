"""How far like jobs lie apart, and how far a range must reach."""

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HELD = 0.8  # the part of jobs that a range shall hold
Z = NormalDist().inv_cdf((1 + HELD) / 2)


def spread_of(residuals: Floats) -> float:
    """The standard deviation of the normal distribution of which as much lies within the range: the 80th percentile of
    the residuals' size over 1.2816. Up to a fifth of wild values do not move it, and the range holds its 80 % whatever
    the shape of the rest."""
    return float(np.quantile(np.abs(residuals), HELD)) / Z


def blended(variance: float, count: float, *, prior: float, prior_count: float) -> float:
    """A variance from `count` values, drawn toward one that was as good as seen `prior_count` times: the scaled inverse
    chi-squared prior (Gelman et al. 2013, 2.6)."""
    return (prior_count * prior + count * variance) / (prior_count + count)


def t_reach(degrees: float) -> float:
    """The 90th percentile of Student's t: how many spreads an 80 % range reaches to either side, when the spread itself
    is known from `degrees` (4 or more) values. Abramowitz and Stegun 1964, 26.7.5."""
    z, n = Z, degrees
    return (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )
