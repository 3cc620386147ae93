"""Edge points of one flank in, the widest point of each coil out.

At a flank the wire's axis is seen as x = R cos t, z = k t (R mean coil radius, k rise
per radian) and the outline keeps the wire's radius from it. Seen from above by an angle
a, the wire's way in depth adds R tan a to the rise on one flank and takes it off the
other, by the hand of winding. Taking the known course of the axis off each edge point
leaves a true circle, whose widest point and radius many points fix far better than the
single outermost pixel does.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from calib.records import EdgePoints, Floats

LEAST_POINTS = 7
NEAR_WIDEST = 0.05  # an arc must reach its widest point, in sines, from both sides
LEAST_ARC = 0.5  # and turn by this much in all
BALANCED = 0.35  # an arc that turns so far to both sides fixes its widest point best
NOTCH_PX = 1.2  # how far the outline steps back between two coils
UNLIKE = 0.5  # an arc's radius may differ by this share from the usual one
STEEPEST = 0.6  # sine of the angle from the widest point up to which points are used
STEEPEST_RAD = 1.1
FIT_ROUNDS = 6
HUBER_PX = 0.3
FLOOR_PX = 0.03  # no coil's widest point is known better than this


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
    """How a flank is seen: side, hand of winding (+1 right), lens height and distance.

    Both in px of the axis plane, the height over the spring's foot.
    """

    side: int
    hand: int
    lens_up_px: float
    distance_px: float

    def depth_rise(self, up_px: Floats, radius_px: Floats) -> Floats:
        """Give what the wire's way in depth adds to its rise per radian (n,)."""
        tangent = (self.lens_up_px - up_px) / self.distance_px
        return np.asarray(self.side * self.hand * radius_px * tangent)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circle:
    """A circle in (outward, up) px with the rms of its points' distances."""

    out_px: float
    up_px: float
    radius_px: float
    rms_px: float
    points: int
    turned: float  # the lesser of the sines to which it turns on its two sides

    @property
    def u_px(self) -> float:
        """How well its widest point is known; neighbouring points err alike."""
        balance = float(np.clip(self.turned / BALANCED, 0.25, 1.0))
        return float(
            np.hypot(self.rms_px / np.sqrt(self.points / 4), FLOOR_PX) / balance
        )


def find_coils(flank: EdgePoints, axis_px: Floats, sight: Sight) -> Coils:
    """Split a flank into coils and find each one's widest point."""
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
        for run in _runs(local)
        if len(run) >= LEAST_POINTS
        and tilt[run].min() < NEAR_WIDEST
        and tilt[run].max() > -NEAR_WIDEST
        and np.ptp(tilt[run]) > LEAST_ARC
    ]
    circles = _follow_course(runs, sight)
    frame = np.vstack([outward, up])
    widest = [[each.out_px + each.radius_px, each.up_px] for each in circles]
    return Coils(
        side=side,
        points_px=axis_px[0] + np.array(widest).reshape(-1, 2) @ frame,
        radius_px=np.array([each.radius_px for each in circles]),
        u_px=np.array([each.u_px for each in circles]),
        outward=outward,
    )


def _runs(local: Floats) -> list[NDArray[np.int64]]:
    """Split at the notches between coils: gaps, and lowest places of the outline."""
    if len(local) < LEAST_POINTS:
        return []
    step = np.diff(local[:, 1])
    gap = np.flatnonzero(step > max(3.0, 4 * float(np.median(step)) + 2)) + 1
    smooth = uniform_filter1d(local[:, 0], 5)
    notches, _ = find_peaks(-smooth, prominence=NOTCH_PX)
    cuts = np.unique(np.concatenate([gap, notches]))
    return [np.asarray(run) for run in np.split(np.arange(len(local)), cuts)]


def _follow_course(runs: list[Floats], sight: Sight) -> list[Circle]:
    """Fit circles, then again with the course of the wire's axis taken off."""
    raw = [fit_circle(run) for run in runs]
    usual = float(np.median([each.radius_px for each in raw] or [1.0]))
    pairs = [
        (run, circle)
        for run, circle in zip(runs, raw, strict=True)
        if abs(circle.radius_px / usual - 1) < UNLIKE
    ]
    heights = np.array([circle.up_px for _, circle in pairs])
    radii = np.array([_mean_radius(circle) for _, circle in pairs])
    rises = rise_per_radian(heights) + sight.depth_rise(heights, radii)
    return [
        fit_circle(*_without_course(run, circle, rise))
        for (run, circle), rise in zip(pairs, rises, strict=True)
    ]


def rise_per_radian(heights: Floats) -> Floats:
    """Rise of the wire per radian at each coil, from its neighbours' heights."""
    if len(heights) < 2:  # noqa: PLR2004 - a pitch needs two coils
        return np.zeros(len(heights))
    gaps = np.diff(heights)
    usual = float(np.median(gaps))
    gaps = np.minimum(gaps, 1.3 * usual)  # a coil that was not seen is no pitch
    both = np.column_stack([np.append(gaps[:1], gaps), np.append(gaps, gaps[-1:])])
    return np.asarray(both.mean(axis=1) / (2 * np.pi))


def _without_course(run: Floats, raw: Circle, rise: float) -> tuple[Floats, Floats]:
    """Take the axis's course off; also the sine of each point's angle from widest.

    The edge's normal, read off the circle through the raw points, is across the wire's
    axis as seen: tan(angle) = R sin t / k.
    """
    across, along = run[:, 0] - raw.out_px, run[:, 1] - raw.up_px
    angle = np.arctan2(along, np.maximum(across, 1e-6))
    mean_radius = _mean_radius(raw)
    tangent = np.tan(np.clip(angle, -STEEPEST_RAD, STEEPEST_RAD))
    turn = np.arcsin(np.clip(rise / mean_radius * tangent, -1, 1))
    course = np.column_stack([-mean_radius * (1 - np.cos(turn)), rise * turn])
    return run - course, np.sin(angle)


def _mean_radius(circle: Circle) -> float:
    """Mean coil radius in px: how far out the wire's axis lies."""
    return max(circle.out_px, 2 * circle.radius_px)


def fit_circle(points: Floats, sine: Floats | None = None) -> Circle:
    """Fit a circle robustly to (n, 2) points; those far from widest are left out."""
    used = np.ones(len(points), dtype=bool) if sine is None else np.abs(sine) < STEEPEST
    if used.sum() < LEAST_POINTS:
        used[:] = True
    origin = points[used].mean(axis=0)
    local = points[used] - origin
    weight = np.ones(len(local))
    centre, radius, residual = np.zeros(2), 1.0, np.zeros(len(local))
    for _ in range(FIT_ROUNDS):
        design = np.column_stack([2 * local, np.ones(len(local))]) * weight[:, None]
        target = (local**2).sum(axis=1) * weight
        solution = np.linalg.lstsq(design, target, rcond=None)[0]
        centre = solution[:2]
        radius = float(np.sqrt(max(solution[2] + centre @ centre, 1e-12)))
        residual = np.linalg.norm(local - centre, axis=1) - radius
        scale = max(HUBER_PX, 1.5 * float(np.median(np.abs(residual))))
        weight = np.sqrt(np.minimum(1.0, scale / np.maximum(np.abs(residual), 1e-9)))
    rise = (local[:, 1] - centre[1]) / radius
    return Circle(
        out_px=float(centre[0] + origin[0]),
        up_px=float(centre[1] + origin[1]),
        radius_px=radius,
        rms_px=float(np.sqrt(np.mean(residual**2))),
        points=int(used.sum()),
        turned=float(min(rise.max(), -rise.min())),
    )
