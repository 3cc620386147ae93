"""What a specification's own figures imply, and what new springs are allowed.

For the eye only: nothing here decides about a spring.
"""

from collections.abc import Iterator
from math import atan, degrees, radians, tan

from vision.inspection.drawn import asked_rate, find_design, middle, point_of
from vision.inspection.load import implied_free_height, least_gaps_mm
from vision.inspection.new_springs import describe_new_spring
from vision.inspection.wording import say_number
from vision.records.judged import Requirements

DYNAMIC = 1.5  # times the least gaps at rest (EN 13906-1)


def describe_practice(asked: Requirements) -> tuple[str, ...]:
    """List what follows from one kind's figures, each with its source."""
    return (
        *_rate(asked),
        *_squareness(asked),
        *describe_new_spring(asked),
        *_clearance(asked),
    )


def _rate(asked: Requirements) -> Iterator[str]:
    closed, rate = point_of(asked.closed), asked_rate(asked)
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


def _clearance(asked: Requirements) -> Iterator[str]:
    if asked.open and asked.solid_height_mm:
        left_mm = asked.open.height_mm - asked.solid_height_mm
        yield (
            f"open height less solid height leaves {say_number(left_mm, 'mm')} before "
            "coil bind"
        )
    design = find_design(asked)
    if design:
        gaps_mm = DYNAMIC * least_gaps_mm(design.wire_mm, design.mean_mm, design.active)
        yield (
            f"the general rule of EN 13906-1 leaves moving springs "
            f"{say_number(gaps_mm, 'mm')}; valve springs are run closer"
        )
