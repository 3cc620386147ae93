"""Two methods, or repeated pictures, held against each other.

record          made by                    read by
Bound           inspection.agreement       output, cli
Agreement       inspection.agreement       output, cli
Slope           inspection.agreement       output, cli
GaugeStudy      inspection.repeatability   output, cli
"""

from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """An estimate with its 95 % confidence limits."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How far two methods differ on the same springs, first minus second.

    ``factor`` times the standard deviation ``sd`` lies between bias and each limit
    (1.96 for 95 % of normal differences). ``means`` and ``differences`` are the points
    of the plot, pair by pair.
    """

    first: str
    second: str
    unit: str
    factor: float
    bias: Bound
    sd: float
    lower: Bound
    upper: Bound
    means: tuple[float, ...]
    differences: tuple[float, ...]

    @property
    def count(self) -> int:
        """Number of pairs."""
        return len(self.differences)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """A straight line with errors in both directions: second = intercept + slope first.

    ``scatter`` is the mean squared scaled residual, near 1 where the stated
    uncertainties explain the spread; None where none were stated.
    """

    intercept: float
    slope: float
    scatter: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Repeatability and reproducibility as standard deviations in ``unit``."""

    unit: str
    repeatability: float
    reproducibility: float
    part_variation: float

    @property
    def gauge(self) -> float:
        """Repeatability and reproducibility together."""
        return hypot(self.repeatability, self.reproducibility)

    @property
    def total(self) -> float:
        """Gauge and parts together."""
        return hypot(self.gauge, self.part_variation)

    @property
    def gauge_percent(self) -> float:
        """Share of the gauge in the total variation."""
        return 100.0 * self.gauge / self.total if self.total else 0.0
