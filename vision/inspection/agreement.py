"""Two methods on the same springs: bias, limits of agreement, a line through both.

Bland and Altman, "Statistical methods for assessing agreement between two methods of
clinical measurement", Lancet 1986; i: 307-310. Deming regression where both err.
"""

from collections.abc import Sequence
from math import sqrt
from statistics import fmean, stdev

from calib.errors import SpecError
from vision.inspection.wording import say_number, say_range
from vision.records.compared import Agreement, Bound, Slope

Numbers = Sequence[float]

NORMAL_95 = 1.96  # 95 % of normal differences lie within bias and this many SD
CONFIDENCE = 0.975  # two-sided 95 %
LEAST_PAIRS = 3  # below, a standard deviation says nothing
TINY = 1e-18  # keeps a value without uncertainty from infinite weight
SEARCH_STEPS = 200  # of the search for a slope; the last step is far below rounding


def limits_of_agreement(
    first: tuple[str, Numbers],
    second: tuple[str, Numbers],
    unit: str,
    factor: float = NORMAL_95,
) -> Agreement:
    """Compare two methods pair by pair, first minus second.

    ``first`` and ``second`` are name and values; ``factor`` is 1.96, or 2 as the paper
    prints it. Confidence limits by Student's t with n - 1 degrees of freedom, the
    standard error of a limit being sqrt(3 s^2 / n). Raises SpecError below three pairs.
    """
    pairs = list(zip(first[1], second[1], strict=True))
    if len(pairs) < LEAST_PAIRS:
        raise SpecError(
            f"{first[0]} against {second[0]}",
            f"there are {len(pairs)} pairs, below {LEAST_PAIRS}",
            "Read more springs by hand",
        )
    differences = tuple(a - b for a, b in pairs)
    bias, sd = fmean(differences), stdev(differences)
    quantile, root = _student(len(pairs) - 1), sqrt(len(pairs))
    wide = quantile * sqrt(3.0) * sd / root
    return Agreement(
        first=first[0],
        second=second[0],
        unit=unit,
        factor=factor,
        bias=_bound(bias, quantile * sd / root),
        sd=sd,
        lower=_bound(bias - factor * sd, wide),
        upper=_bound(bias + factor * sd, wide),
        means=tuple((a + b) / 2.0 for a, b in pairs),
        differences=differences,
    )


def say_agreement(agreement: Agreement, limit: float | None = None) -> str:
    """Say in a sentence what the comparison means at the bench.

    ``limit`` is the difference that would matter, in the same unit.
    """
    unit, bias = agreement.unit, agreement.bias
    side = "above" if bias.value >= 0.0 else "below"
    shared = bias.low <= 0.0 <= bias.high
    lean = (
        f"no difference on average beyond chance between {agreement.first} and "
        f"{agreement.second}"
        if shared
        else f"{agreement.first} reads {say_number(abs(bias.value), unit)} {side} "
        f"{agreement.second} on average"
    )
    span = (
        f"for 95 % of springs {agreement.first} less {agreement.second} is "
        f"{say_range(agreement.lower.value, agreement.upper.value, unit)}"
    )
    worst = max(-agreement.lower.low, agreement.upper.high)
    meaning = "" if limit is None else f"; {_meaning(worst, limit, unit)}"
    return f"over {agreement.count} springs {lean}; {span}{meaning}"


def deming(first: Numbers, second: Numbers, ratio: float = 1.0) -> Slope:
    """Fit second = intercept + slope first with errors in both (closed form).

    ``ratio`` is the error variance of second over that of first. Raises SpecError where
    the values do not vary together.
    """
    x_mean, y_mean = fmean(first), fmean(second)
    pairs = [(x - x_mean, y - y_mean) for x, y in zip(first, second, strict=True)]
    sxx = sum(x * x for x, _ in pairs)
    syy = sum(y * y for _, y in pairs)
    sxy = sum(x * y for x, y in pairs)
    if sxy == 0.0:
        raise SpecError(
            "line through both methods",
            "the values do not vary together",
            "Compare springs of different heights",
        )
    gap = syy - ratio * sxx
    slope = (gap + sqrt(gap**2 + 4.0 * ratio * sxy**2)) / (2.0 * sxy)
    return Slope(intercept=y_mean - slope * x_mean, slope=slope)


def deming_weighted(
    first: tuple[Numbers, Numbers], second: tuple[Numbers, Numbers]
) -> Slope:
    """Fit a line where every value has its own standard uncertainty.

    ``first`` and ``second`` are values and standard uncertainties. Minimises the sum of
    (y - a - b x)^2 / (u_y^2 + b^2 u_x^2), a functional relationship by maximum
    likelihood (Ripley and Thompson, Analyst 1987; 112: 377-383).
    """
    from scipy.optimize import minimize_scalar  # noqa: PLC0415

    start = deming(first[0], second[0]).slope
    reach = 0.9 * abs(start)
    found = minimize_scalar(
        lambda slope: _scaled(first, second, slope)[1],
        bounds=(start - reach, start + 4.0 * reach),
        method="bounded",
        options={"xatol": 1e-10, "maxiter": SEARCH_STEPS},
    )
    slope = float(found.x)
    intercept, squares = _scaled(first, second, slope)
    mean_square = squares / len(first[0])
    return Slope(intercept=intercept, slope=slope, scatter=mean_square)


def _scaled(
    first: tuple[Numbers, Numbers], second: tuple[Numbers, Numbers], slope: float
) -> tuple[float, float]:
    """Compute the best intercept for a slope, and the sum of scaled squares."""
    rows = list(zip(*first, *second, strict=True))
    weights = [1.0 / (uy**2 + (slope * ux) ** 2 + TINY) for _, ux, _, uy in rows]
    rests = [y - slope * x for x, _, y, _ in rows]
    both = list(zip(weights, rests, strict=True))
    intercept = sum(w * rest for w, rest in both) / sum(weights)
    return intercept, sum(w * (rest - intercept) ** 2 for w, rest in both)


def _student(freedom: int) -> float:
    from scipy.stats import t  # noqa: PLC0415

    return float(t.ppf(CONFIDENCE, freedom))


def _bound(value: float, half: float) -> Bound:
    return Bound(value=value, low=value - half, high=value + half)


def _meaning(worst: float, limit: float, unit: str) -> str:
    """Hold the widest likely difference against the one that matters."""
    said = say_number(limit, unit)
    if worst <= limit:
        return f"that is inside {said}: either may stand for the other"
    return f"that may exceed {said}: do not take one for the other near a limit"
