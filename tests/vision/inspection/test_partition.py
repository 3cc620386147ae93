"""Natural groups against published results of optimal one-dimensional clustering.

Numbers as printed for Ckmeans.1d.dp (Wang and Song, 2011), ckmeans and natural breaks
implementations, all of Fisher's criterion (1958).
"""

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.inspection.partition import choose_classes, partition, scatter_within

PUBLISHED = {
    "a": ([-1, 2, -1, 2, 4, 5, 6, -1, 2, -1], 3, [[-1] * 4, [2] * 3, [4, 5, 6]]),
    "b": (list(range(1, 11)), 2, [[1, 2, 3, 4, 5], [6, 7, 8, 9, 10]]),
    "c": (
        [-3, 2.2, -6, 7, 9, 11, -6.3, 75, 82.6, 32.3, -9.5, 62.5, 7, 95.2],
        8,
        [
            [-9.5, -6.3, -6],
            [-3, 2.2],
            [7, 7, 9, 11],
            [32.3],
            [62.5],
            [75],
            [82.6],
            [95.2],
        ],
    ),
    "e alone": ([3, 2, -5.4, 0.1], 4, [[-5.4], [0.1], [2], [3]]),
    "e identical": ([-2.5] * 4, 1, [[-2.5] * 4]),
    "f three": ([0, 3, 4], 2, [[0], [3, 4]]),
    "f negative": ([-3, 0, 4], 2, [[-3, 0], [4]]),
    "f seven": (
        [0, 1, 2, 50, 100, 101, 103],
        3,
        [[0, 1, 2], [50], [100, 101, 103]],
    ),
    "f rounding": (
        [64.64249127327881, 64.64249127328245, 57.79216426169771],
        2,
        [[57.79216426169771], [64.64249127327881, 64.64249127328245]],
    ),
    "g breaks": ([1, 2, 4, 5, 7, 9, 10, 20], 3, [[1, 2, 4, 5], [7, 9, 10], [20]]),
    "g hundred": ([2, 32, 33, 34, 100], 3, [[2], [32, 33, 34], [100]]),
    "h three": (
        [1259.61, 2024.82, 1855.75, 1559.04, 1707.65, 1107.1, 2155.8],
        3,
        [[1107.1, 1259.61], [1559.04, 1707.65, 1855.75], [2024.82, 2155.8]],
    ),
    "h four": (
        [1259.61, 2024.82, 1855.75, 1559.04, 1707.65, 1107.1, 2155.8],
        4,
        [[1107.1, 1259.61], [1559.04], [1707.65, 1855.75], [2024.82, 2155.8]],
    ),
}


@pytest.mark.parametrize(
    ("values", "classes", "groups"), PUBLISHED.values(), ids=PUBLISHED.keys()
)
def test_published_partitions(
    values: list[float], classes: int, groups: list[list[float]]
) -> None:
    """The published groups come out, smallest first."""
    assert [list(group) for group in partition(values, classes)] == groups


@pytest.mark.parametrize(
    ("case", "printed"),
    [
        ("a", [0, 0, 2]),
        ("b", [10, 10]),
        ("c", [7.526666667, 13.52, 11, 0, 0, 0, 0, 0]),
    ],
)
def test_published_scatter_within(case: str, printed: list[float]) -> None:
    """The printed sums of squares within each class."""
    values, classes, _ = PUBLISHED[case]

    found = [scatter_within(group) for group in partition(values, classes)]

    assert found == pytest.approx(printed, abs=1e-9)


@pytest.mark.parametrize(
    ("values", "classes", "centres"),
    [
        (
            [3.5, 3.6, 3.7, 3.1, 1.1, 0.9, 0.8, 2.2, 1.9, 2.1],
            3,
            [0.9333, 2.0667, 3.475],
        ),
        ([0.9, 1, 1.1, 1.9, 2, 2.1], 2, [1.0, 2.0]),
    ],
)
def test_published_number_of_classes(
    values: list[float], classes: int, centres: list[float]
) -> None:
    """Three and two classes by the information criterion, with their centres.

    The floor of 0.05 is ours: a class of one value has no width of its own.
    """
    assert choose_classes(values, 5, 0.05) == classes
    found = [sum(group) / len(group) for group in partition(values, classes)]
    assert [round(centre, 4) for centre in found] == centres


def test_identical_values_are_one_class() -> None:
    """Equal heights never part, whatever number of classes is asked."""
    assert partition([-2.5] * 4, 3) == ((-2.5,) * 4,)
    assert choose_classes([-2.5] * 4, 3, 0.01) == 1


def test_no_values_make_no_classes() -> None:
    """An empty set has no groups."""
    assert partition([], 3) == ()


numbers = st.lists(st.integers(-50, 50), min_size=1, max_size=8)


@given(values=numbers, classes=st.integers(1, 4))
def test_no_other_split_has_less_scatter(values: list[int], classes: int) -> None:
    """Every way to cut the sorted values leaves at least as much scatter."""
    ordered = sorted(values)
    classes = min(classes, len(set(ordered)))

    found = sum(scatter_within(group) for group in partition(ordered, classes))

    least = min(
        sum(
            scatter_within(ordered[low:high])
            for low, high in pairwise([0, *cuts, len(ordered)])
        )
        for cuts in combinations(range(1, len(ordered)), classes - 1)
    )
    assert found == pytest.approx(least, abs=1e-9)
