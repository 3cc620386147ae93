"""Linear grey picture and rough edge points in, sub-pixel edge points out.

Each profile is fitted with a Gaussian-blurred step, I(d) = inside + (outside - inside)
Phi((d - position) / blur), on the picture's own pixels: pixels near the point along the
row (or column) that the normal crosses most steeply, each with its exact distance d
along the normal. Nothing is interpolated, so neither phase bias nor correlated noise
is added. A curved edge is seen towards its centre, see `EdgePoints.spread_px2`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import correlate1d

from calib.records import EdgePoints, Floats, Grey
from calib.step import (
    USUAL_BLUR_PX,
    StepFit,
    Window,
    first_steps,
    judge_steps,
    solve_steps,
)

Mask = NDArray[np.bool_]

FIRST_HALF_PX = 6.0  # 3.5 blurs of a usual photo plus shoulders
BLURS_IN_WINDOW, SHOULDER_PX = 3.5, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeSettings:
    """What counts as an edge.

    ``polarity`` +1 keeps edges that are brighter outside, -1 darker, 0 both; ``rows``
    is how many neighbouring pixel rows are fitted together (odd); contrast in linear
    light 0..1, ``most_residual`` per contrast.
    """

    polarity: int = 0
    rows: int = 1
    least_contrast: float = 0.02
    least_contrast_to_noise: float = 4.0
    most_blur_px: float = 5.0
    most_residual: float = 0.12
    most_u_px: float = 0.6


DEFAULT_SETTINGS = EdgeSettings()


def locate_edges(
    grey: Grey,
    points_px: Floats,
    normals: Floats,
    half_length_px: float,
    settings: EdgeSettings = DEFAULT_SETTINGS,
) -> EdgePoints:
    """Locate the edge near each rough point; points without a sound edge are left out.

    Parameters
    ----------
    grey
        Linear light, 0..1.
    points_px, normals
        (n, 2) rough points and unit normals that point outward.
    half_length_px
        The edge is sought this far to both sides of each point.
    """
    return fit_edges(grey, points_px, normals, half_length_px, settings)[0]


def fit_edges(
    grey: Grey,
    points_px: Floats,
    normals: Floats,
    half_length_px: float,
    settings: EdgeSettings = DEFAULT_SETTINGS,
) -> tuple[EdgePoints, Mask]:
    """Locate edges and tell which of the rough points were kept."""
    points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
    directions = np.asarray(normals, dtype=np.float64).reshape(-1, 2)
    if len(points) == 0:
        fit = StepFit(steps=np.zeros((0, 4)), noise=np.zeros(0), u_px=np.zeros(0))
        none = np.zeros(0, bool)
        return _kept(points, directions, fit, none, settings.rows), none
    start, clear = _seek(grey, points, directions, half_length_px, settings)
    begin = points + start[:, None] * directions
    fit, fitted = _fit_steps(grey, begin, directions, settings)
    offset = start + fit.steps[:, 2]
    good = clear & fitted & (np.abs(offset) <= half_length_px)
    good &= _is_sound(fit, settings)
    found = points + offset[:, None] * directions
    return _kept(found, directions, fit, good, settings.rows), good


def _kept(
    points: Floats, normals: Floats, fit: StepFit, good: Mask, rows: int
) -> EdgePoints:
    inside, outside, _, blur = fit.steps[good].T
    return EdgePoints(
        points_px=points[good],
        normals=normals[good],
        blur_px=blur,
        inside=inside,
        outside=outside,
        u_px=fit.u_px[good],
        spread_px2=spread_px2(blur, rows),
    )


def spread_px2(blur_px: Floats, rows: int) -> Floats:
    """Variance (n,) along an edge of the light in ``rows`` neighbouring pixel rows."""
    return np.asarray(blur_px**2 + (rows**2 - 1) / 12)


def _is_sound(fit: StepFit, settings: EdgeSettings) -> Mask:
    """Tell which steps have contrast and fit, and are sharp and certain enough."""
    rise = fit.steps[:, 1] - fit.steps[:, 0]
    contrast = np.abs(rise)
    sound = contrast >= settings.least_contrast
    sound &= contrast >= settings.least_contrast_to_noise * fit.noise
    sound &= fit.noise <= settings.most_residual * contrast
    sound &= (fit.steps[:, 3] < settings.most_blur_px) & (fit.u_px < settings.most_u_px)
    if settings.polarity:
        sound &= rise * settings.polarity > 0
    return sound


def _gather(
    grey: Grey, points: Floats, normals: Floats, half_px: Floats, rows: int
) -> Window:
    """Collect pixels within ``half_px`` (n,) along each normal, by row or by column.

    Each row's (or column's) pixels lie about where the point's tangent crosses it.
    """
    steep = np.abs(normals[:, 1:]) > np.abs(normals[:, :1])
    ahead = np.where(steep, normals[:, 1:], normals[:, :1])
    aside = np.where(steep, normals[:, :1], normals[:, 1:])
    level = np.maximum(ahead**2, 0.5)  # of unit normals never less
    base = np.rint(points).astype(np.int64)
    off = np.sum((base - points) * normals, axis=1, keepdims=True)
    reach = int(float(np.max(half_px)) * np.sqrt(2.0) + 0.5)
    along = np.arange(-reach, reach + 1)
    beside = np.arange(rows) - rows // 2
    crossing = np.rint(-(off + beside * aside) * ahead / level).astype(np.int64)
    main = (crossing[:, :, None] + along).reshape(len(points), -1)
    side = np.repeat(beside, len(along))
    column = base[:, :1] + np.where(steep, side, main)
    row = base[:, 1:] + np.where(steep, main, side)
    distance = off + main * ahead + side * aside
    near = np.abs(distance) <= half_px[:, None]
    height, width = grey.shape
    within = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    value = grey[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)]
    return Window(
        distance_px=distance,
        value=value.astype(np.float64),
        used=(near & within).astype(np.float64),
        whole=np.all(within | ~near, axis=1),
    )


def _seek(
    grey: Grey,
    points: Floats,
    normals: Floats,
    half_length_px: float,
    settings: EdgeSettings,
) -> tuple[Floats, Mask]:
    """Find the steepest rise of each profile, a little in favour of its middle."""
    half = np.full(len(points), half_length_px)
    window = _gather(grey, points, normals, half + 2.0 * USUAL_BLUR_PX, 1)
    reach = np.arange(-4.0, 5.0)
    kernel = reach * np.exp(-0.5 * (reach / USUAL_BLUR_PX) ** 2)
    ahead = normals[np.arange(len(normals)), np.argmax(np.abs(normals), axis=1)]
    slope = correlate1d(window.value, kernel, axis=1, mode="nearest") * ahead[:, None]
    strength = slope * settings.polarity if settings.polarity else np.abs(slope)
    far = np.abs(window.distance_px) / half[:, None]
    strength = np.where(far <= 1.0, strength * (1.0 - 0.3 * far**2), -np.inf)
    every, best = np.arange(len(points)), np.argmax(strength, axis=1)
    found = window.whole & (strength[every, best] > 0)
    return np.asarray(window.distance_px[every, best]), found


def _fit_steps(
    grey: Grey, points: Floats, normals: Floats, settings: EdgeSettings
) -> tuple[StepFit, Mask]:
    """Fit twice: in a first window, then in one that suits the blur just found."""
    half = np.full(len(points), FIRST_HALF_PX)
    window = _gather(grey, points, normals, half, settings.rows)
    steps = solve_steps(window, first_steps(window))
    most_px = BLURS_IN_WINDOW * settings.most_blur_px
    wanted = BLURS_IN_WINDOW * steps[:, 3] + SHOULDER_PX
    suited = np.clip(wanted, FIRST_HALF_PX, max(most_px, FIRST_HALF_PX))
    blurred = suited > FIRST_HALF_PX + 1.0
    fit, fitted = judge_steps(window, steps)
    if not np.any(blurred):
        return fit, fitted
    moved = points[blurred] + steps[blurred, 2:3] * normals[blurred]
    wide = _gather(grey, moved, normals[blurred], suited[blurred], settings.rows)
    begin = steps[blurred] * (1.0, 1.0, 0.0, 1.0)
    again, good = judge_steps(wide, solve_steps(wide, begin))
    again.steps[:, 2] += steps[blurred, 2]
    fit.steps[blurred], fit.noise[blurred] = again.steps, again.noise
    fit.u_px[blurred], fitted[blurred] = again.u_px, good
    return fit, fitted


def pixels_beside(
    grey: Grey, edges: EdgePoints, half_px: float, rows: int = 1
) -> Window:
    """Collect the pixels near edge points, with their distances along the normals."""
    half = np.full(len(edges.u_px), half_px)
    return _gather(grey, edges.points_px, edges.normals, half, rows)
