"""Natural groups of numbers: the partition with the least sum of squares within.

Fisher, "On grouping for maximum homogeneity", 1958: the best classes are contiguous in
sorted order, so dynamic programming finds them exactly. The number of classes follows
the Bayesian information criterion of a mixture of normal distributions, as Song and
Zhong, 2020, use it.
"""

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import exp, inf, log, pi, sqrt

Sums = tuple[list[float], list[float]]
TIE_SHARE = 1e-12  # of the whole scatter: differences below are rounding


def partition(values: Sequence[float], classes: int) -> tuple[tuple[float, ...], ...]:
    """Split sorted values into ``classes`` with the least sum of squares within.

    Fewer different values than classes give fewer classes. Equal values never part.
    """
    ordered = sorted(values)
    classes = min(classes, len(set(ordered)))
    if classes < 1:
        return ()
    starts = _fill(ordered, classes)
    ends, end = [len(ordered)], len(ordered)
    for count in range(classes, 1, -1):
        end = starts[count - 1][end]
        ends.append(end)
    return tuple(
        tuple(ordered[low:high]) for low, high in pairwise([0, *reversed(ends)])
    )


def scatter_within(group: Sequence[float]) -> float:
    """Sum the squared distances from the group's mean."""
    mean = sum(group) / len(group)
    return sum((value - mean) ** 2 for value in group)


def choose_classes(values: Sequence[float], most: int, floor: float) -> int:
    """Choose the number of classes from 1 to ``most``.

    ``floor`` is the standard deviation below which a class is not narrower in truth:
    the measurement's own.
    """
    scores = {
        classes: _information(partition(values, classes), floor)
        for classes in range(1, min(most, len(set(values))) + 1)
    }
    return max(scores, key=lambda classes: (scores[classes], -classes))


def _fill(ordered: Sequence[float], classes: int) -> list[list[int]]:
    """Find where the last of so many classes starts, for each number of values."""
    count = len(ordered)
    sums = _running_sums(ordered)
    tie = TIE_SHARE * _within(sums, 0, count)
    best = [[inf] * (count + 1) for _ in range(classes)]
    starts = [[0] * (count + 1) for _ in range(classes)]
    best[0] = [_within(sums, 0, end) for end in range(count + 1)]
    for row in range(1, classes):
        for end in range(row + 1, count + 1):
            for start in range(row, end):
                if ordered[start] == ordered[start - 1]:
                    continue
                total = best[row - 1][start] + _within(sums, start, end)
                if total < best[row][end] - tie:
                    best[row][end], starts[row][end] = total, start
    return starts


def _running_sums(ordered: Sequence[float]) -> Sums:
    """Sum values and their squares up to each place.

    Values are taken from the middle one, so that near-equal ones keep their digits.
    """
    offsets = [value - ordered[len(ordered) // 2] for value in ordered]
    squares = [offset**2 for offset in offsets]
    return [0.0, *accumulate(offsets)], [0.0, *accumulate(squares)]


def _within(sums: Sums, start: int, end: int) -> float:
    """Compute the sum of squares of ``ordered[start:end]`` about its mean."""
    if start == end:
        return 0.0
    total, squares = (sums[part][end] - sums[part][start] for part in (0, 1))
    return max(0.0, squares - total**2 / (end - start))


def _information(groups: Sequence[Sequence[float]], floor: float) -> float:
    """Compute 2 log likelihood less (3 k - 1) log n, of the mixture of the groups."""
    count = sum(len(group) for group in groups)
    parts = [
        (
            len(group) / count,
            sum(group) / len(group),
            max(sqrt(scatter_within(group) / len(group)), floor),
        )
        for group in groups
    ]
    likelihood = sum(
        log(sum(_density(value, *part) for part in parts))
        for group in groups
        for value in group
    )
    return 2.0 * likelihood - (3 * len(groups) - 1) * log(count)


def _density(value: float, share: float, mean: float, deviation: float) -> float:
    distance = (value - mean) / deviation
    return share * exp(-0.5 * distance**2) / (deviation * sqrt(2.0 * pi))
