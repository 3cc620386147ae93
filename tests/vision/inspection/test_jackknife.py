"""The jackknife's limits are those that theory gives where theory has them."""

from statistics import fmean

import numpy as np
import pytest

from calib.errors import SpecError
from vision.inspection.agreement import deming
from vision.inspection.jackknife import jackknife_bound


def _mean(pairs: list[tuple[float, ...]]) -> float:
    return fmean(value for value, *_ in pairs)


def test_for_a_mean_it_is_the_usual_interval() -> None:
    """The jackknife of a mean is s / sqrt(n) exactly (Miller, Biometrika 1974).

    Values 1..5: mean 3, s = sqrt(2.5), t(0.975, 4) = 2.776 (Student's table).
    """
    bound = jackknife_bound([(value,) for value in (1.0, 2.0, 3.0, 4.0, 5.0)], _mean)

    assert bound.value == 3.0
    assert bound.high - bound.value == pytest.approx(2.776 * (2.5 / 5) ** 0.5, abs=1e-3)
    assert bound.value - bound.low == pytest.approx(bound.high - bound.value)


def test_slopes_of_noisy_methods_are_covered() -> None:
    """Of 400 invented comparisons nineteen in twenty hold the true slope of 1."""
    source = np.random.default_rng(7)
    held = 0
    for _ in range(400):
        truth = source.uniform(45.0, 49.0, 16)
        first, second = truth + source.normal(0.0, 0.05, (2, 16))
        pairs = list(zip(first.tolist(), second.tolist(), strict=True))
        bound = jackknife_bound(
            pairs, lambda some: deming(*zip(*some, strict=True)).slope
        )
        held += bound.low <= 1.0 <= bound.high

    assert 0.92 <= held / 400 <= 0.98


def test_many_pairs_are_left_out_in_forty_parts() -> None:
    """The limits stay as wide and the estimates few."""
    calls = 0

    def counted(pairs: list[tuple[float, ...]]) -> float:
        nonlocal calls
        calls += 1
        return _mean(pairs)

    values = np.random.default_rng(3).normal(0.0, 1.0, 4000)
    bound = jackknife_bound([(float(value),) for value in values], counted)

    assert calls == 41
    half = (bound.high - bound.low) / 2
    assert half == pytest.approx(2.023 * values.std(ddof=1) / 4000**0.5, rel=0.35)


def test_two_pairs_have_no_limits() -> None:
    """Leaving one out would leave a point."""
    with pytest.raises(SpecError, match="2 pairs, below 3"):
        jackknife_bound([(1.0, 1.0), (2.0, 2.0)], _mean)
