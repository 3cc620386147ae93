"""Groups of springs by free height: none wider than asked, or by natural breaks."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median

from calib.quantity import Quantity, difference
from vision.inspection.partition import choose_classes, partition
from vision.records.judged import Group

Heights = Mapping[int, Quantity]
MOST_CLASSES = 6  # natural groups of one set
NOISE_MM = 1e-9  # binary noise of a difference
LEAST_FLOOR_MM = 1e-6  # of the deviation within a natural group


def group_heights(
    ranked: Sequence[int], heights: Heights, width_mm: float | None
) -> tuple[Group, ...]:
    """Group by a width, else by natural breaks; smallest first."""
    rising = list(reversed(ranked))
    if not rising:
        return ()
    parts = (
        _natural_parts(rising, heights)
        if width_mm is None
        else _greedy_parts(rising, heights, width_mm)
    )
    return tuple(
        Group(
            number=number,
            positions=tuple(part),
            lowest_mm=heights[part[0]].value,
            highest_mm=heights[part[-1]].value,
            doubtful=_doubtful(part, rising, heights),
        )
        for number, part in enumerate(parts, start=1)
    )


def _greedy_parts(
    rising: Sequence[int], heights: Heights, width_mm: float
) -> list[list[int]]:
    """Start at the smallest, close a group where it would span more: fewest groups."""
    parts: list[list[int]] = []
    for position in rising:
        start = heights[parts[-1][0]].value if parts else None
        if start is None or heights[position].value - start > width_mm + NOISE_MM:
            parts.append([])
        parts[-1].append(position)
    return parts


def _natural_parts(rising: Sequence[int], heights: Heights) -> list[list[int]]:
    values = [heights[position].value for position in rising]
    own = [
        difference(heights[upper], heights[lower]).u
        for lower, upper in pairwise(rising)
    ]
    floor = max(median(own) if own else 0.0, LEAST_FLOOR_MM)
    count = choose_classes(values, MOST_CLASSES, floor)
    parts, rest = [], list(rising)
    for group in partition(values, count):
        parts.append(rest[: len(group)])
        rest = rest[len(group) :]
    return parts


def _doubtful(
    part: Sequence[int], rising: Sequence[int], heights: Heights
) -> tuple[int, ...]:
    """Name springs that differ from one of a neighbouring group by no more than U."""
    others = [position for position in rising if position not in part]
    return tuple(
        position
        for position in part
        if any(_indistinct(heights[position], heights[other]) for other in others)
    )


def _indistinct(first: Quantity, second: Quantity) -> bool:
    gap = difference(first, second)
    return abs(gap.value) <= gap.expanded
