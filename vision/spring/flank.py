"""Edge points of one flank in, the widest point of each coil out.

Near a flank the wire runs along the line of sight, so its outline is close to a circle
of the wire's own radius; a circle through a coil's points gives its widest point far
better than the single outermost pixel does.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from calib.records import EdgePoints, Floats

LEAST_POINTS = 7
PAST_WIDEST = 0.2  # an arc must turn by this sine beyond its widest point, both ways
ROUNDS = 8
HUBER_PX = 0.3
NOTCH_PX = 0.5  # how far the outline steps back between two coils
UNLIKE = 0.5  # an arc's radius may differ by this share from the usual one
FLOOR_PX = 0.03  # no coil's widest point is known better than this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coils:
    """Widest points of one flank, foot to top: px (n, 2), radius of the arc, u in px.

    ``side`` is +1 on the right, -1 on the left; ``outward`` the unit direction in the
    picture along which "widest" is meant.
    """

    side: int
    points_px: Floats
    radius_px: Floats
    u_px: Floats
    outward: Floats


def find_coils(flank: EdgePoints, axis_px: Floats, side: int) -> Coils:
    """Split a flank into coils and find each one's widest point."""
    up = axis_px[1] - axis_px[0]
    up = up / np.linalg.norm(up)
    right = np.array([-up[1], up[0]])
    outward = right * np.sign(right[0] or 1.0) * side
    height = (flank.points_px - axis_px[0]) @ up
    order = np.argsort(height)
    tilt = (flank.normals @ up)[order]
    points = flank.points_px[order]
    fits = [
        _Arc(*fit_circle(points[run]), len(run))
        for run in _runs(height[order], (points - axis_px[0]) @ outward)
        if len(run) >= LEAST_POINTS
        and tilt[run].min() < -PAST_WIDEST
        and tilt[run].max() > PAST_WIDEST
    ]
    usual = float(np.median([arc.radius_px for arc in fits])) if fits else 0.0
    arcs = [arc for arc in fits if abs(arc.radius_px / usual - 1) < UNLIKE]
    return Coils(
        side=side,
        points_px=np.array(
            [arc.centre_px + arc.radius_px * outward for arc in arcs]
        ).reshape(-1, 2),
        radius_px=np.array([arc.radius_px for arc in arcs]),
        u_px=np.array([arc.u_px for arc in arcs]),
        outward=outward,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Arc:
    centre_px: Floats
    radius_px: float
    rms_px: float
    points: int

    @property
    def u_px(self) -> float:
        return float(np.hypot(self.rms_px / np.sqrt(self.points / 4), FLOOR_PX))


def _runs(height: Floats, outward: Floats) -> list[NDArray[np.int64]]:
    """Split at the notches between coils: gaps, and lowest places of the outline."""
    if len(height) < LEAST_POINTS:
        return []
    step = np.diff(height)
    gap = np.flatnonzero(step > max(3.0, 4 * float(np.median(step)) + 2)) + 1
    smooth = uniform_filter1d(outward, 3)
    notches, _ = find_peaks(-smooth, prominence=NOTCH_PX)
    cuts = np.unique(np.concatenate([gap, notches]))
    return [np.asarray(run) for run in np.split(np.arange(len(height)), cuts)]


def fit_circle(points: Floats) -> tuple[Floats, float, float]:
    """Fit a circle robustly to (n, 2) points: centre, radius, rms residual in px."""
    origin = points.mean(axis=0)
    local = points - origin
    weight = np.ones(len(points))
    centre, radius, residual = np.zeros(2), 1.0, np.zeros(len(points))
    for _ in range(ROUNDS):
        design = np.column_stack([2 * local, np.ones(len(local))]) * weight[:, None]
        target = (local**2).sum(axis=1) * weight
        solution = np.linalg.lstsq(design, target, rcond=None)[0]
        centre = solution[:2]
        radius = float(np.sqrt(max(solution[2] + centre @ centre, 1e-12)))
        residual = np.linalg.norm(local - centre, axis=1) - radius
        scale = max(HUBER_PX, 1.5 * float(np.median(np.abs(residual))))
        weight = np.sqrt(np.minimum(1.0, scale / np.maximum(np.abs(residual), 1e-9)))
    return centre + origin, radius, float(np.sqrt(np.mean(residual**2)))
