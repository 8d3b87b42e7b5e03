"""How a reading differs from the true root depth.

A worn key reads shallow of true by fractions of a depth (trade references), so the error
of a reading, measured root less true root, leans to the positive side. It is modelled
as the sum of

- caliper noise, normal with standard deviation `noise_mm`, and
- wear, the positive half of a normal with scale `wear_mm` (0 for the wafers of a lock),

which together is a skew normal distribution with scale sqrt(noise^2 + wear^2) and shape
wear / noise (A. Azzalini, Scandinavian Journal of Statistics 12, 1985), mixed with a
share `slips` of readings that are simply off (dirt, a burr, a slipped jaw), even over
one depth step to either side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import owens_t


@dataclass(frozen=True)
class WearModel:
    """Parameters in mm, except `slips`, a share between 0 and 1. `step_mm` is the smallest
    difference between two root depths of the system."""

    noise_mm: float
    wear_mm: float
    step_mm: float
    slips: float = 0.04

    @classmethod
    def for_step(cls, step_mm: float, *, worn: bool = True) -> WearModel:
        """The default for a system: noise of a sixth of a step, wear with a scale of a quarter.

        Common practice, no source: it makes a reading in the middle between two depths
        almost certainly the deeper one, and a reading on a depth that depth.
        """
        return cls(noise_mm=step_mm / 6, wear_mm=step_mm / 4 if worn else 0.0, step_mm=step_mm)

    def density(self, error_mm: float) -> float:
        """How likely an error is, per mm; never 0."""
        scale = math.hypot(self.noise_mm, self.wear_mm)
        place = error_mm / scale
        normal = math.exp(-place * place / 2) / math.sqrt(2 * math.pi)
        lean = math.erfc(-self.wear_mm / self.noise_mm * place / math.sqrt(2))
        return (1 - self.slips) * normal * lean / scale + self.slips / (2 * self.step_mm)

    def share_below(self, error_mm: float) -> float:
        """The chance of an error of at most `error_mm`."""
        place = error_mm / math.hypot(self.noise_mm, self.wear_mm)
        skew = math.erfc(-place / math.sqrt(2)) / 2 - 2 * float(owens_t(place, self.wear_mm / self.noise_mm))
        even = min(max((error_mm + self.step_mm) / (2 * self.step_mm), 0.0), 1.0)
        return (1 - self.slips) * skew + self.slips * even

    @property
    def reach_mm(self) -> float:
        """How far wear may well carry a reading to the shallow side: three times its scale."""
        return 3 * self.wear_mm

    def rate_within(self, tolerance_mm: float) -> float:
        """The chance that a reading is at most `tolerance_mm` deep of the true root depth and
        at most that, or the reach of wear, shallow of it: the rate at which one cut's
        candidates contain the true depth, at least."""
        return self.share_below(max(tolerance_mm, self.reach_mm)) - self.share_below(-tolerance_mm)
