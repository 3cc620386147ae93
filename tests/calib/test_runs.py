"""Splitting a bumpy edge into its runs."""

import numpy as np
import pytest
from scipy.signal import find_peaks

from calib.runs import NOTCH_PX, peaks, split_runs

LEAST = 7
ALONG = np.arange(60.0)


def bumps(depth_px: float) -> np.ndarray:
    """Two bumps 30 px long with a notch so deep at 30 px between them."""
    return depth_px * np.abs(np.sin(np.pi * ALONG / 30.0))


def test_a_deep_notch_parts_two_runs() -> None:
    """Each bump is one run."""
    runs = split_runs(bumps(3 * NOTCH_PX), ALONG, LEAST)

    assert [len(run) for run in runs] == [30, 30]


def test_a_shallow_notch_parts_nothing() -> None:
    """What an edge's roughness does is no notch."""
    assert len(split_runs(bumps(0.5 * NOTCH_PX), ALONG, LEAST)) == 1


def test_a_gap_parts_two_runs() -> None:
    """Where nothing was seen one run ends and another begins."""
    along = np.where(ALONG < 20, ALONG, ALONG + 15.0)

    runs = split_runs(np.zeros(60), along, LEAST)

    assert [len(run) for run in runs] == [20, 40]


def test_too_few_points_make_no_run() -> None:
    """Below the least number nothing is told apart."""
    assert split_runs(bumps(9.0)[: LEAST - 1], ALONG[: LEAST - 1], LEAST) == []


@pytest.mark.parametrize("seed", range(20))
def test_peaks_are_those_of_a_reference_library(seed: int) -> None:
    """scipy.signal.find_peaks, by prominence; it takes a third of a second to load."""
    rng = np.random.default_rng(seed)
    values = np.cumsum(rng.normal(size=int(rng.integers(5, 400))))
    least = float(rng.uniform(0.5, 4.0))

    assert peaks(values, least).tolist() == (
        find_peaks(values, prominence=least)[0].tolist()
    )
