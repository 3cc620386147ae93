"""What a specification's own figures imply, and what new springs are allowed.

For the eye only: nothing here decides about a spring.
"""

from collections.abc import Iterator
from math import atan, degrees, radians, tan

from calib.quantity import Quantity
from vision.inspection.load import LoadPoint, implied_free_height, rate_from_loads
from vision.inspection.tolerances import SQUARENESS_SHARE, handbook_squareness_deg
from vision.inspection.wording import say_number
from vision.records.judged import Limit, Load, Requirements


def describe_practice(asked: Requirements) -> tuple[str, ...]:
    """List what follows from one kind's figures, each with its source."""
    return (*_rate(asked), *_squareness(asked), *_new_spring(asked), *_clearance(asked))


def middle(limit: Limit | None) -> float | None:
    """Find what stands for a new spring: nominal, else the middle of its limits."""
    if limit is None or limit.nominal is not None:
        return limit.nominal if limit else None
    low = limit.minimum if limit.new_minimum is None else limit.new_minimum
    known = [bound for bound in (low, limit.maximum) if bound is not None]
    return sum(known) / len(known) if known else None


def _rate(asked: Requirements) -> Iterator[str]:
    closed, opened = _point(asked.closed), _point(asked.open)
    rate = rate_from_loads(closed, opened) if closed and opened else None
    if rate is None or closed is None:
        return
    height = implied_free_height(closed, rate)
    yield (
        f"the two loads give a rate of {say_number(rate.value, 'N/mm')} and imply a "
        f"free height of {say_number(height.value, 'mm')}, usually 0.5 to 2 mm short"
    )


def _squareness(asked: Requirements) -> Iterator[str]:
    limit, height_mm = asked.squareness, middle(asked.free_height)
    if limit is None or limit.maximum is None or height_mm is None:
        return
    if limit.unit == "deg":
        gap_mm = height_mm * tan(radians(limit.maximum))
        yield (
            f"{say_number(limit.maximum, 'deg')} over the free height is a gap of "
            f"{say_number(gap_mm, 'mm')}; the lean decides"
        )
    else:
        lean_deg = degrees(atan(limit.maximum / height_mm))
        yield (
            f"{say_number(limit.maximum, 'mm')} over the free height is a lean of "
            f"{say_number(lean_deg, 'deg')}; the gap decides"
        )


def _new_spring(asked: Requirements) -> Iterator[str]:
    """Tell what a new spring of this shape is allowed, for comparison."""
    height_mm = middle(asked.free_height)
    if asked.squareness is None or height_mm is None:
        return
    gap_mm = SQUARENESS_SHARE[2] * height_mm
    yield (
        f"new springs, after EN 15800 grade 2 (from memory): e1 to "
        f"{say_number(gap_mm, 'mm')}"
    )
    outside_mm, wire_mm = middle(asked.outside_diameter), middle(asked.wire_diameter)
    if outside_mm and wire_mm and outside_mm > wire_mm:
        mean_mm = outside_mm - wire_mm
        lean_deg = handbook_squareness_deg(height_mm / mean_mm, mean_mm / wire_mm)
        yield (
            f"new springs, Machinery's Handbook, 31st ed., p. 331, table 10: square "
            f"to {say_number(lean_deg, 'deg')}"
        )


def _clearance(asked: Requirements) -> Iterator[str]:
    if asked.open and asked.solid_height_mm:
        left_mm = asked.open.height_mm - asked.solid_height_mm
        yield (
            f"open height less solid height leaves {say_number(left_mm, 'mm')} before "
            "coil bind"
        )


def _point(load: Load | None) -> LoadPoint | None:
    force_n = middle(load.force) if load else None
    if load is None or force_n is None:
        return None
    return LoadPoint(
        height=Quantity(value=load.height_mm, unit="mm", influences=()),
        force=Quantity(value=force_n, unit="N", influences=()),
    )
