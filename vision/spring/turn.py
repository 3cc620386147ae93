"""Two views a quarter turn apart in; springs with their whole lean and e1 out.

The second photo shows each spring turned a quarter turn counter-clockwise, seen from
above: its lean (x to the right, y away) has become (-y, x). So each view measures what
the other cannot see, and each is solved again with what the other has found.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.quantity import Influence, Quantity, combined
from calib.records import Calibration
from vision.records.measured import (
    Characteristic,
    Outline,
    Reason,
    SpringMeasurement,
    Unmeasured,
)
from vision.spring.axis import solve_axis
from vision.spring.budget import base_stance
from vision.spring.measure import (
    Solved,
    draw,
    remarks_of,
    solve_view,
    view_quantities,
)
from vision.spring.solid import Seen, look

SAME_MM = {  # one spring's values in two photos differ by no more, beside their U
    Characteristic.FREE_HEIGHT: 0.3,
    Characteristic.OUTSIDE_DIAMETER: 0.3,
}
OF_ONE_SPRING = "/"  # in a source's name, see `Sight.name`
ROUNDS = 3  # what one view's lean does to the other shrinks by x / Z each time


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """One view of one spring: its outline and what it is measured by."""

    outline: Outline
    calibration: Calibration
    photo_sha256: str

    @property
    def name(self) -> str:
        """Name of the spring in this photo."""
        return f"{self.photo_sha256[:12]}/{self.outline.position}"


def join_views(first: Sight, second: Sight) -> SpringMeasurement | Unmeasured:
    """Measure one spring from both of its views."""
    seen = tuple(
        look(each.outline, each.calibration.camera) for each in (first, second)
    )
    slopes = _depth_slopes((first, second), seen)
    one, two = (
        solve_view(coils, each.calibration, each.name, slope)
        for each, coils, slope in zip((first, second), seen, slopes, strict=True)
    )
    if isinstance(one, Unmeasured):
        return one
    if isinstance(two, Unmeasured):
        return Unmeasured(
            position=first.outline.position,
            reason=two.reason,
            detail=f"in the second photo; {two.detail}",
            box_px=first.outline.box_px,
        )
    return _joined(first, second, (one, two))


def _depth_slopes(
    sights: tuple[Sight, Sight], seen: tuple[Seen, ...]
) -> tuple[float, float]:
    """Give each view's lean in depth as the other view sees it; axes alone tell it.

    Where too few coils show an axis, what is known by then: solving the view says why.
    """
    slopes = (0.0, 0.0)
    for _ in range(ROUNDS):
        try:
            one, two = (
                solve_axis(
                    base_stance(each.calibration, slope), coils.left, coils.right
                )
                for each, coils, slope in zip(sights, seen, slopes, strict=True)
            )
        except ValueError:
            break
        slopes = (-two.slope, one.slope)
    return slopes


def _joined(
    first: Sight, second: Sight, solved: tuple[Solved, Solved]
) -> SpringMeasurement | Unmeasured:
    slopes_u = [max(each.solid.axis.u_slope, 1e-3) for each in reversed(solved)]
    one = view_quantities(solved[0], first.calibration, slopes_u[0])
    two = view_quantities(solved[1], second.calibration, slopes_u[1])
    if fault := _other_spring(one, two):
        return Unmeasured(
            position=first.outline.position,
            reason=Reason.MOVED,
            detail=fault,
            box_px=first.outline.box_px,
        )
    values = {key: mean(one[key], two[key]) for key in one if key in two}
    right = one[Characteristic.LEAN]
    away = combined(
        -two[Characteristic.LEAN].value, "deg", [(-1.0, two[Characteristic.LEAN])]
    )
    values[Characteristic.LEAN] = whole(right, away)
    span = (solved[0].solid.coil_span_mm + solved[1].solid.coil_span_mm) / 2
    lean = values[Characteristic.LEAN]
    tangent = float(np.tan(np.radians(lean.value)))
    per_degree = span * (1 + tangent**2) * np.pi / 180
    values[Characteristic.SQUARENESS] = combined(
        span * tangent,
        "mm",
        [(per_degree, lean), (tangent, values[Characteristic.FREE_HEIGHT])],
    )
    return SpringMeasurement(
        position=first.outline.position,
        values=values,
        views=2,
        lean_parts_deg=(right, away),
        drawings=(draw(solved[0], view=0), draw(solved[1], view=1)),
        colour=first.outline.colour,
        remarks=tuple(
            dict.fromkeys(said for each in solved for said in remarks_of(each))
        ),
    )


def _other_spring(
    one: dict[Characteristic, Quantity], two: dict[Characteristic, Quantity]
) -> str:
    """Say which value shows that two springs were photographed, or nothing."""
    for characteristic, allowed in SAME_MM.items():
        if characteristic not in one or characteristic not in two:
            continue
        a, b = one[characteristic], two[characteristic]
        limit = allowed + float(np.hypot(a.expanded, b.expanded))
        if abs(a.value - b.value) > limit:
            return (
                f"{characteristic.text} {a.value:.2f} mm in the first photo and "
                f"{b.value:.2f} mm in the second"
            )
    return ""


def mean(one: Quantity, two: Quantity) -> Quantity:
    """Weighted mean; weights follow each view's own standard uncertainty.

    Target, lens and stage are the same in both photos and mislead both alike.
    """
    known = one.u > 0 and two.u > 0
    share = two.u**2 / (one.u**2 + two.u**2) if known else 0.5
    value = share * one.value + (1 - share) * two.value
    joined = combined(value, one.unit, [(share, one), (1 - share, two)])
    alike = _alike(_staged(one, two, share), _staged(two, one, 1 - share))
    return replace(joined, influences=joined.influences + alike)


def _staged(view: Quantity, other: Quantity, share: float) -> tuple[Influence, ...]:
    """Influences that all springs of one photo share, and the other photo does not."""
    known = {each.source for each in other.influences}
    return tuple(
        replace(each, u=share * each.u)
        for each in view.influences
        if OF_ONE_SPRING not in each.source and each.source not in known
    )


def _alike(
    one: tuple[Influence, ...], two: tuple[Influence, ...]
) -> tuple[Influence, ...]:
    """Give what the u of a sum lacks when influences of one label err together."""
    extra = []
    for label in dict.fromkeys(each.label for each in one):
        views = [[each for each in view if each.label == label] for view in (one, two)]
        u = [float(np.linalg.norm([each.u for each in view])) for view in views]
        if all(u):
            source = f"both views|{views[0][0].source}"
            together = float(np.sqrt(2 * u[0] * u[1]))
            extra.append(Influence(source=source, label=label, u=together))
    return tuple(extra)


def whole(right: Quantity, away: Quantity) -> Quantity:
    """Join a lean's two parts, in degrees; leans are small, so their squares add."""
    length = float(np.hypot(right.value, away.value))
    if length <= 0:
        return combined(0.0, "deg", [(1.0, right), (1.0, away)])
    return combined(
        length, "deg", [(right.value / length, right), (away.value / length, away)]
    )
