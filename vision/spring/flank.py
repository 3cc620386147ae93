"""Edge points of one flank in, the widest point of each coil out.

Near a flank the wire runs along the line of sight, so its outline is close to a circle
of the wire's own radius; a circle through a coil's points gives its widest point far
better than the single outermost pixel does.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats

LEAST_POINTS = 7
LEAST_ARC = 0.45  # spread of the normals' share along the axis, to know a radius
ROUNDS = 8
HUBER_PX = 0.3
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
    widest, radii, spreads = [], [], []
    for run in _runs(height[order], tilt):
        if len(run) < LEAST_POINTS or np.ptp(tilt[run]) < LEAST_ARC:
            continue
        centre, radius, spread = fit_circle(points[run])
        widest.append(centre + radius * outward)
        radii.append(radius)
        spreads.append(float(np.hypot(spread / np.sqrt(len(run) / 4), FLOOR_PX)))
    return Coils(
        side=side,
        points_px=np.array(widest).reshape(-1, 2),
        radius_px=np.array(radii),
        u_px=np.array(spreads),
        outward=outward,
    )


def _runs(height: Floats, tilt: Floats) -> list[NDArray[np.int64]]:
    """Split where the outline turns from a coil's upper to the next one's lower side."""
    if len(height) < LEAST_POINTS:
        return []
    gap = np.diff(height) > max(3.0, 4 * float(np.median(np.diff(height))) + 2)
    smooth = np.convolve(np.pad(tilt, 1, mode="edge"), np.ones(3) / 3, mode="valid")
    turn = (smooth[:-1] > 0.1) & (smooth[1:] < smooth[:-1] - 0.15)
    cuts = np.flatnonzero(gap | turn) + 1
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
