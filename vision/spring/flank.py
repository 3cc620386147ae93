"""Edge points of one flank in, the widest point of each coil out.

At a flank the wire's axis is seen as x = R cos t, z = k t (R mean coil radius, k rise
per radian) and the outline keeps the wire's radius from it, to a lens that looks
straight at the spring. Seen from above by an angle a, the wire's way in depth adds
R sin a to the rise on one flank and takes it off the other, by the hand of winding.
With the known course of the axis taken off, the end of a coil is a true circle, whose
widest point and radius many points fix far better than the single outermost pixel does.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

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
from vision.spring.inward import UNMOVED, Inward

NEAR_WIDEST = 0.05  # an arc must reach its widest point, in sines, from both sides
LEAST_ARC = 0.5  # and turn by this much in all
STRANGE = 2.5  # times the usual radius of arcs as they are seen, their course included
COURSES = 3  # rounds in which a coil's radius and the course settle
MOST_UNLIKE = 0.7  # by which one end may count, in logarithms: a half or the double
UNLIKE = 0.5  # an arc's radius may differ by this share from the usual one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coils:
    """Widest points of one flank, foot to top: px (n, 2), the wire's radius, u in px.

    ``side`` is +1 on the right, -1 on the left; ``outward`` the unit direction in the
    picture along which "widest" is meant; ``inward`` is how far inside edges lie.
    ``u_wire_px`` is of the radius where all ends are one, nan where each has its own.
    """

    side: int
    points_px: Floats
    radius_px: Floats
    u_px: Floats
    outward: Floats
    inward: Inward = UNMOVED
    u_wire_px: float = float("nan")

    def chosen(self, which: NDArray[np.bool_]) -> "Coils":
        """Those that ``which`` (n,) tells."""
        return replace(
            self,
            points_px=self.points_px[which],
            radius_px=self.radius_px[which],
            u_px=self.u_px[which],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How a flank is seen by a lens turned straight at it: its side, where it lies.

    ``lens_up_px`` is how far above the spring's foot the horizon is seen, and
    ``distance_px`` the lens's distance from the plane on which that is measured.
    """

    side: int
    lens_up_px: float
    distance_px: float

    def depth_rise(self, up_px: Floats, radius_px: Floats) -> Floats:
        """Give what right-hand wire's way in depth adds to its rise per radian (n,)."""
        down = np.arctan2(self.lens_up_px - up_px, self.distance_px)
        return np.asarray(self.side * radius_px * np.sin(down))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flank:
    """One flank's edge points (n, 2) outward and up of the foot, from there up.

    ``tilts`` (n,) are the sines of their normals, ``frame`` the rows outward and up,
    ``spread_px2`` their usual one.
    """

    local_px: Floats
    tilts: Floats
    spread_px2: float
    sight: Sight
    foot_px: Floats
    frame: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Split:
    """One flank's ends, their first circles, and how they lie in the picture."""

    ends: Ends
    circles: Circles
    sight: Sight
    foot_px: Floats
    frame: Floats  # outward and up

    def coils(self, circles: Circles) -> Coils:
        return Coils(
            side=self.sight.side,
            points_px=self.foot_px + circles.widest_px @ self.frame,
            radius_px=circles.radius_px,
            u_px=circles.u_px,
            outward=self.frame[0],
        )


def find_coils(
    flanks: tuple[EdgePoints, EdgePoints],
    axis_px: Floats,
    sights: tuple[Sight, Sight],
) -> tuple[Coils, Coils]:
    """Split both flanks into coils and find each one's widest point.

    The wire is taken to be wound the way that makes it the thickest alike all over.
    """
    split = [
        _split(lay_out(flank, axis_px, sight))
        for flank, sight in zip(flanks, sights, strict=True)
    ]
    hands = (_wind(split, hand) for hand in (1, -1))
    left, right = min(hands, key=lambda hand: hand[0])[1]
    return left, right


def lay_out(flank: EdgePoints, axis_px: Floats, sight: Sight) -> Flank:
    """See a flank's edge points from the spring's foot, in order."""
    up = axis_px[1] - axis_px[0]
    up = up / np.linalg.norm(up)
    right = np.array([-up[1], up[0]])
    outward = right * np.sign(right[0] or 1.0) * sight.side
    local = (flank.points_px - axis_px[0]) @ np.column_stack([outward, up])
    order = np.argsort(local[:, 1])
    return Flank(
        local_px=local[order],
        tilts=(flank.normals @ up)[order],
        spread_px2=float(np.median(flank.spread_px2)) if len(order) else 0.0,
        sight=sight,
        foot_px=axis_px[0],
        frame=np.vstack([outward, up]),
    )


def _split(flank: Flank) -> _Split:
    """Split one flank at the notches between its coils."""
    local, tilt = flank.local_px, flank.tilts
    runs = [
        local[run]
        for run in split_runs(local[:, 0], local[:, 1], LEAST_POINTS)
        if len(run) >= LEAST_POINTS
        and tilt[run].min() < NEAR_WIDEST
        and tilt[run].max() > -NEAR_WIDEST
        and np.ptp(tilt[run]) > LEAST_ARC
    ]
    ends = padded(runs, [flank.spread_px2] * len(runs))
    raw = fit_ends(ends)
    usual = _usual(raw)
    near = (raw.radius_px > usual / STRANGE) & (raw.radius_px < usual * STRANGE)
    return _Split(
        ends=ends.chosen(near),
        circles=raw.chosen(near),
        sight=flank.sight,
        foot_px=flank.foot_px,
        frame=flank.frame,
    )


def _wind(flanks: list[_Split], hand: int) -> tuple[float, list[Coils]]:
    """Follow the wire wound to the right (+1) or left (-1): how unlike it is, coils.

    One wire is alike thick on all coils, unlike what is no end of a coil.
    """
    followed = [_follow_course(each, hand) for each in flanks]
    radii = np.concatenate([each.radius_px for each in followed])
    if len(radii) == 0:
        return 0.0, [flank.coils(flank.circles) for flank in flanks]
    wire = float(np.median(radii))
    unlike = float(np.mean(np.minimum(np.abs(np.log(radii / wire)), MOST_UNLIKE)))
    coils = []
    for flank, circles in zip(flanks, followed, strict=True):
        alike = np.abs(circles.radius_px / wire - 1) < UNLIKE
        kept = circles.chosen(alike)
        course = _course(kept, flank.sight, hand)
        again = fit_ends(flank.ends.chosen(alike), course, _usual(kept))
        coils.append(flank.coils(again))
    return unlike, coils


def _follow_course(flank: _Split, hand: int) -> Circles:
    """Fit circles with the course of the wire's axis taken off.

    How far out the wire runs and its course tell each other: a plain circle through an
    end that is seen from above is too large, and so reads the coil too small.
    """
    circles = flank.circles
    for _ in range(COURSES):
        circles = fit_ends(flank.ends, _course(circles, flank.sight, hand))
    return circles


def _course(circles: Circles, sight: Sight, hand: int) -> Course:
    heights, radii = circles.up_px, circles.coil_radius_px
    return course_of(heights, radii, sight, hand)


def course_of(heights: Floats, radii: Floats, sight: Sight, hand: int) -> Course:
    """Give the course of wire seen at heights (n,), wound with radii (n,), all px."""
    return Course(
        rise_px=rise_per_radian(heights),
        radius_px=radii,
        aside_px=hand * sight.depth_rise(heights, radii),
    )


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
