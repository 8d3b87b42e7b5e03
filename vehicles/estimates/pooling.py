"""Partial pooling of group means: the normal hierarchical model with a grid over the spread between groups.

Groups j of one family have measured means y_j with sampling variances v_j, and true means drawn from N(mu, tau^2).

- Given tau, mu has the precision-weighted mean of the y_j with weights 1 / (v_j + tau^2) (Gelman et al. 2013, 5.20).
- The likelihood of tau with mu integrated out (5.21), which is also the restricted likelihood of a meta-analysis:

      log L(tau) = - 1/2 log(sum w_j) - 1/2 sum log(v_j + tau^2) - 1/2 sum w_j (y_j - mu)^2,  w_j = 1 / (v_j + tau^2)

  Several families that share one tau add their log L.
- Given tau, a group's true mean is its own drawn toward mu by B = v / (v + tau^2) (5.17; Morris 1983, 1.4 and 1.8).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

GRID_STEPS = 80
GRID_REACH = 4.0


@dataclass(frozen=True, slots=True)
class Measured:
    """A mean as far as it is known: `variance` is that of its error, 0 or more."""

    mean: float
    variance: float


def pooled(members: Sequence[Measured], tau: float) -> Measured:
    """The mean of a family and the variance of its error, given the spread between its members."""
    weights = [1 / (each.variance + tau * tau) for each in members]
    total = sum(weights)
    mean = sum(weight * each.mean for weight, each in zip(weights, members, strict=True)) / total
    return Measured(mean, 1 / total)


def log_likelihood(families: Iterable[Sequence[Measured]], tau: float) -> float:
    """log L(tau) of the module's words, but for a constant; a family of one says nothing of tau."""
    total = 0.0
    for members in families:
        if len(members) < 2:
            continue
        centre = pooled(members, tau)
        spread = [each.variance + tau * tau for each in members]
        total += math.log(centre.variance) - sum(map(math.log, spread))
        total -= sum((each.mean - centre.mean) ** 2 / var for each, var in zip(members, spread, strict=True))
    return total / 2


def tau_weights(
    families: Sequence[Sequence[Measured]], grid: Sequence[float], *, likely: float | None = None
) -> list[float]:
    """How probable each tau of a grid is, adding up to 1.

    Before the data tau is half-normal with scale `likely`, or anything alike when that is None. A proper prior matters
    where there are few groups: the likeliest tau is then often 0, which would pool everything.
    """
    logs = [log_likelihood(families, tau) - (0 if likely is None else (tau / likely) ** 2 / 2) for tau in grid]
    most = max(logs)
    raw = [math.exp(each - most) for each in logs]
    total = sum(raw)
    return [each / total for each in raw]


def spread_between(families: Sequence[Sequence[Measured]], *, likely: float) -> float:
    """The square root of the mean of tau^2 after the data, on a grid from near 0 to four times `likely`."""
    grid = [likely * GRID_REACH * (step + 0.5) / GRID_STEPS for step in range(GRID_STEPS)]
    weights = tau_weights(families, grid, likely=likely)
    return math.sqrt(sum(weight * tau * tau for weight, tau in zip(weights, grid, strict=True)))


def shrunk(own: Measured, family: Measured, tau: float) -> Measured:
    """A group's true mean, from its own measured mean and what is known of its family's.

    mean = (1 - B) own + B family, variance = (1 - B) v + B^2 var(family), B = v / (v + tau^2).
    """
    if own.variance + tau * tau == 0:
        return own
    toward = own.variance / (own.variance + tau * tau)
    return Measured(
        (1 - toward) * own.mean + toward * family.mean,
        (1 - toward) * own.variance + toward * toward * family.variance,
    )
