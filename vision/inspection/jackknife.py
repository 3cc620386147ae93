"""How sure a line through two methods is, by leaving out pairs in turn.

Linnet, "Estimation of the linear relationship between the measurements of two methods
with proportional errors", Stat. Med. 1990; 9: 1463-1473, takes the jackknife for it
(from memory).
"""

from collections.abc import Callable, Sequence
from math import sqrt
from statistics import fmean, stdev

from calib.errors import SpecError
from vision.inspection.agreement import CONFIDENCE
from vision.records.compared import Bound

Values = tuple[float, ...]
Estimate = Callable[[Sequence[Values]], float]

LEAST_PAIRS = 3  # leaving one out must leave a line
MOST_PARTS = 40  # above, pairs are left out several at once, so that time stays short


def jackknife_bound(pairs: Sequence[Values], estimate: Estimate) -> Bound:
    """Give an estimate from all pairs its 95 % limits, by Student's t.

    Raises
    ------
    SpecError
        Below three pairs.
    """
    if len(pairs) < LEAST_PAIRS:
        raise SpecError(
            "line through both methods",
            f"there are {len(pairs)} pairs, below {LEAST_PAIRS}",
            "Read more springs by hand",
        )
    from scipy.stats import t  # noqa: PLC0415 keeps the start light

    parts = min(len(pairs), MOST_PARTS)
    whole = estimate(pairs)
    pseudo = [
        parts * whole - (parts - 1) * estimate(_without(pairs, one, parts))
        for one in range(parts)
    ]
    half = float(t.ppf(CONFIDENCE, parts - 1)) * stdev(pseudo) / sqrt(parts)
    middle = fmean(pseudo)
    return Bound(value=whole, low=middle - half, high=middle + half)


def _without(pairs: Sequence[Values], part: int, parts: int) -> list[Values]:
    """Leave out every pair that falls into one part."""
    return [pair for index, pair in enumerate(pairs) if index % parts != part]
