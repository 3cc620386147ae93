"""What new springs are allowed, for comparison: standards and handbook tables.

None of it decides about a used spring; the maker's service limits do. Values from
memory are marked, and are said to be "after" the standard.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

GRADE_FACTOR = {1: 0.63, 2: 1.0, 3: 1.6}  # Q, after EN 15800:2008 (from memory)
SQUARENESS_SHARE = {1: 0.03, 2: 0.05, 3: 0.08}
"""e1 / L0 of ground ends after EN 15800 (grade 1 read, 2 and 3 from memory)."""
PARALLELISM_SHARE = {1: 0.015, 2: 0.03, 3: 0.06}
"""e2 / De of ground ends after EN 15800 (grade 1 read, 2 and 3 from memory)."""
JIS_SQUARENESS_SHARE = {1: 0.02, 2: 0.05, 3: 0.08}  # e1 / H0, JIS B 2707

INDEX_STEPS = (4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0)
SLENDERNESS_STEPS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0)
HANDBOOK_SQUARENESS_DEG = (
    (3.0, 3.0, 3.5, 3.5, 3.5, 3.5, 4.0),
    (2.5, 3.0, 3.0, 3.0, 3.0, 3.5, 3.5),
    (2.5, 2.5, 2.5, 3.0, 3.0, 3.0, 3.0),
    (2.5, 2.5, 2.5, 2.5, 3.0, 3.0, 3.0),
    (2.0, 2.5, 2.5, 2.5, 2.5, 2.5, 3.0),
    (2.0, 2.0, 2.5, 2.5, 2.5, 2.5, 2.5),
    (2.0, 2.0, 2.0, 2.5, 2.5, 2.5, 2.5),
    (2.0, 2.0, 2.0, 2.0, 2.5, 2.5, 2.5),
    (2.0, 2.0, 2.0, 2.0, 2.0, 2.5, 2.5),
    (2.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.5),
)
"""Machinery's Handbook, 31st ed., p. 331, table 10: by L0 / D and index."""
COILS_PER_INCH_STEPS = (0.5, 1.0, 2.0, 4.0, 8.0, 12.0, 16.0, 20.0)
HANDBOOK_LENGTH_SHARE = (
    (0.010, 0.011, 0.012, 0.013, 0.015, 0.016, 0.016),
    (0.011, 0.013, 0.015, 0.016, 0.017, 0.018, 0.019),
    (0.013, 0.015, 0.017, 0.019, 0.020, 0.022, 0.023),
    (0.016, 0.018, 0.021, 0.023, 0.024, 0.026, 0.027),
    (0.019, 0.022, 0.024, 0.026, 0.028, 0.030, 0.032),
    (0.021, 0.024, 0.027, 0.030, 0.032, 0.034, 0.036),
    (0.022, 0.026, 0.029, 0.032, 0.034, 0.036, 0.038),
    (0.023, 0.027, 0.031, 0.034, 0.036, 0.038, 0.040),
)
"""Machinery's Handbook, 31st ed., p. 330, table 8: by active coils per inch, index."""
SHORTEST_MM = 12.7  # shorter springs take the tolerance of 0.5 in
MM_PER_IN = 25.4

DIAMETER_STEPS_MM = (10.0, 16.0, 25.0, 31.5, 40.0, 50.0, 63.0)
DIAMETER_INDEX_STEPS = (8.0, 14.0, 20.0)
DIAMETER_TOLERANCE_MM = {
    1: (
        (0.15, 0.20, 0.25),
        (0.20, 0.25, 0.30),
        (0.25, 0.30, 0.35),
        (0.25, 0.30, 0.35),
        (0.30, 0.40, 0.50),
        (0.40, 0.50, 0.60),
    ),
    2: (
        (0.30, 0.35, 0.40),
        (0.35, 0.45, 0.50),
        (0.40, 0.50, 0.60),
        (0.50, 0.60, 0.70),
        (0.60, 0.80, 0.90),
        (0.80, 1.00, 1.10),
    ),
    3: (
        (0.60, 0.70, 0.80),
        (0.70, 0.90, 1.00),
        (0.80, 1.00, 1.20),
        (1.00, 1.20, 1.50),
        (1.20, 1.50, 1.80),
        (1.50, 2.00, 2.30),
    ),
}
"""Mean coil diameter, both ways, DIN 2095 / EN 15800: by D and index up to."""
JIS_LENGTH = {
    1: ((0.010, 0.2), (0.015, 0.3)),
    2: ((0.020, 0.5), (0.030, 0.7)),
    3: ((0.040, 0.7), (0.055, 0.8)),
}
"""JIS B 2707: share and least mm of free height, index up to 8 and above."""
JIS_INDEX = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """A spring as drawn: wire and mean diameter in mm, active coils, rate in N/mm."""

    wire_mm: float
    mean_mm: float
    active: float
    rate_n_per_mm: float

    @property
    def index(self) -> float:
        """Compute w = D / d."""
        return self.mean_mm / self.wire_mm


def length_tolerance_mm(design: Design, grade: int) -> float:
    """Compute the free-length tolerance after EN 15800 (from memory): aF kf Q / R."""
    factor = GRADE_FACTOR[grade]
    return _force_share(design) * factor / design.rate_n_per_mm


def force_tolerance_n(design: Design, force_n: float, grade: int) -> float:
    """Compute the force tolerance after EN 15800 (from memory): (aF kf + 1.5 % F) Q."""
    return (_force_share(design) + 0.015 * force_n) * GRADE_FACTOR[grade]


def _force_share(design: Design) -> float:
    """Compute aF kf in N, the part of the tolerance that the shape sets."""
    tenth = design.index / 10.0
    by_index = -0.84 * tenth**3 + 3.781 * tenth**2 - 4.244 * tenth + 2.274
    a_f: float = 65.92 * design.wire_mm**3.3 / design.mean_mm**1.6 * by_index
    k_f = -1.0 / (3.0 * design.active**2) + 8.0 / (5.0 * design.active) + 0.803
    return a_f * k_f


def diameter_tolerance_mm(mean_mm: float, index: float, grade: int) -> float | None:
    """Look up the mean diameter's tolerance; None outside 10 to 63 mm or index 20."""
    row = bisect_left(DIAMETER_STEPS_MM, mean_mm) - 1
    column = bisect_left(DIAMETER_INDEX_STEPS, index)
    rows = DIAMETER_TOLERANCE_MM[grade]
    if not 0 <= row < len(rows) or column >= len(DIAMETER_INDEX_STEPS):
        return None
    return rows[row][column]


def jis_length_tolerance_mm(free_mm: float, index: float, grade: int) -> float:
    """Look up the free height's tolerance where no load is asked (JIS B 2707)."""
    share, least_mm = JIS_LENGTH[grade][0 if index <= JIS_INDEX else 1]
    return max(share * free_mm, least_mm)


def handbook_squareness_deg(slenderness: float, index: float) -> float:
    """Interpolate the lean of a new closed and ground spring, by L0 / D and D / d."""
    return _interpolate(
        HANDBOOK_SQUARENESS_DEG, (SLENDERNESS_STEPS, slenderness), (INDEX_STEPS, index)
    )


def handbook_length_tolerance_mm(free_mm: float, active: float, index: float) -> float:
    """Interpolate a new closed and ground spring's free-length tolerance, both ways."""
    coils_per_inch = active / (free_mm / MM_PER_IN)
    share = _interpolate(
        HANDBOOK_LENGTH_SHARE,
        (COILS_PER_INCH_STEPS, coils_per_inch),
        (INDEX_STEPS, index),
    )
    return share * max(free_mm, SHORTEST_MM)


def _interpolate(
    table: Sequence[Sequence[float]],
    down: tuple[Sequence[float], float],
    across: tuple[Sequence[float], float],
) -> float:
    """Interpolate in both directions; outside the table its edge holds."""
    row, low = _place(*down)
    column, left = _place(*across)
    ends = [
        (1.0 - left) * table[at][column] + left * table[at][column + 1]
        for at in (row, row + 1)
    ]
    return (1.0 - low) * ends[0] + low * ends[1]


def _place(steps: Sequence[float], value: float) -> tuple[int, float]:
    """Find the step below a value and how far it lies towards the next."""
    clamped = min(max(value, steps[0]), steps[-1])
    at = min(max(bisect_left(steps, clamped) - 1, 0), len(steps) - 2)
    return at, (clamped - steps[at]) / (steps[at + 1] - steps[at])
