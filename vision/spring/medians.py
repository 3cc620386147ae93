"""Medians of rows that have different numbers of values."""

import numpy as np
from numpy.typing import NDArray

from calib.records import Floats


def row_median(values: Floats, which: NDArray[np.bool_]) -> Floats:
    """Give the median (n, 1) of some of the values (n, m) in each row."""
    order = np.sort(np.where(which, values, np.inf), axis=1)
    count = np.count_nonzero(which, axis=1, keepdims=True)
    middle = np.concatenate([(count - 1) // 2, count // 2], axis=1)
    return np.asarray(np.take_along_axis(order, middle, axis=1).mean(axis=1)[:, None])
