"""Edge points of one flank in, the widest point of each coil out.

At a flank the wire's axis is seen as x = R cos t, z = k t (R mean coil radius, k rise
per radian) and the outline keeps the wire's radius from it. Seen from above by an angle
a, the wire's way in depth adds R tan a to the rise on one flank and takes it off the
other, by the hand of winding. With the known course of the axis taken off, the end of a
coil is a true circle, whose widest point and radius many points fix far better than the
single outermost pixel does.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import EdgePoints, Floats
from calib.runs import split_runs
from vision.spring.coil_ends import (
    LEAST_POINTS,
    Circles,
    Course,
    Ends,
    fit_ends,
    padded,
)

NEAR_WIDEST = 0.05  # an arc must reach its widest point, in sines, from both sides
LEAST_ARC = 0.5  # and turn by this much in all
STRANGE = 2.5  # times the usual radius of arcs as they are seen, their course included
UNLIKE = 0.5  # an arc's radius may differ by this share from the usual one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coils:
    """Widest points of one flank, foot to top: px (n, 2), the wire's radius, u in px.

    ``side`` is +1 on the right, -1 on the left; ``outward`` the unit direction in the
    picture along which "widest" is meant.
    """

    side: int
    points_px: Floats
    radius_px: Floats
    u_px: Floats
    outward: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How a flank is seen: its side, the lens's height and distance.

    Both in px of the axis plane, the height over the spring's foot.
    """

    side: int
    lens_up_px: float
    distance_px: float

    def depth_rise(self, up_px: Floats, radius_px: Floats) -> Floats:
        """Give what right-hand wire's way in depth adds to its rise per radian (n,)."""
        tangent = (self.lens_up_px - up_px) / self.distance_px
        return np.asarray(self.side * radius_px * tangent)


def find_coils(flank: EdgePoints, axis_px: Floats, sight: Sight) -> tuple[Coils, Coils]:
    """Split a flank into coils and find each one's widest point.

    Once for wire wound to the right, once to the left.
    """
    side = sight.side
    up = axis_px[1] - axis_px[0]
    up = up / np.linalg.norm(up)
    right = np.array([-up[1], up[0]])
    outward = right * np.sign(right[0] or 1.0) * side
    local = (flank.points_px - axis_px[0]) @ np.column_stack([outward, up])
    order = np.argsort(local[:, 1])
    tilt, local = (flank.normals @ up)[order], local[order]
    runs = [
        local[run]
        for run in split_runs(local[:, 0], local[:, 1], LEAST_POINTS)
        if len(run) >= LEAST_POINTS
        and tilt[run].min() < NEAR_WIDEST
        and tilt[run].max() > -NEAR_WIDEST
        and np.ptp(tilt[run]) > LEAST_ARC
    ]
    frame = np.vstack([outward, up])
    right_hand, left_hand = (
        Coils(
            side=side,
            points_px=axis_px[0] + circles.widest_px @ frame,
            radius_px=circles.radius_px,
            u_px=circles.u_px,
            outward=outward,
        )
        for circles in _follow_courses(padded(runs), sight)
    )
    return right_hand, left_hand


def _follow_courses(ends: Ends, sight: Sight) -> list[Circles]:
    """Fit circles, then again with the course of the wire's axis taken off.

    For either hand of winding, the right one first.
    """
    raw = fit_ends(ends)
    usual = _usual(raw)
    near = (raw.radius_px > usual / STRANGE) & (raw.radius_px < usual * STRANGE)
    ends, heights, radii = ends.chosen(near), raw.up_px[near], raw.coil_radius_px[near]
    rise, aside = rise_per_radian(heights), sight.depth_rise(heights, radii)
    return [
        _follow_course(ends, Course(rise_px=each, radius_px=radii))
        for each in (rise + aside, rise - aside)
    ]


def _follow_course(ends: Ends, course: Course) -> Circles:
    first = fit_ends(ends, course)
    wire = _usual(first)
    alike = np.abs(first.radius_px / wire - 1) < UNLIKE
    return fit_ends(ends.chosen(alike), course.chosen(alike), wire)


def _usual(circles: Circles) -> float:
    """Give the usual radius in px; 1 where there is none."""
    return float(np.median(circles.radius_px)) if len(circles.radius_px) else 1.0


def rise_per_radian(heights: Floats) -> Floats:
    """Rise of the wire per radian at each coil, from its neighbours' heights."""
    if len(heights) < 2:  # noqa: PLR2004 - a pitch needs two coils
        return np.zeros(len(heights))
    gaps = np.diff(heights)
    usual = float(np.median(gaps))
    gaps = np.minimum(gaps, 1.3 * usual)  # a coil that was not seen is no pitch
    both = np.column_stack([np.append(gaps[:1], gaps), np.append(gaps, gaps[-1:])])
    return np.asarray(both.mean(axis=1) / (2 * np.pi))
