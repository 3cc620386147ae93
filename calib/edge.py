"""Linear grey picture and rough edge points in, sub-pixel edge points out.

Each profile is fitted with a Gaussian-blurred step, I(d) = inside + (outside - inside)
Phi((d - position) / blur), on the picture's own pixels: pixels near the point along the
row (or column) that the normal crosses most steeply, each with its exact distance d
along the normal. Nothing is interpolated, so neither phase bias nor correlated noise
is added. A curved edge of radius R px is seen blur^2 / (2 R) px towards its centre.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import correlate1d
from scipy.special import ndtr

from calib.records import EdgePoints, Floats, Grey

Mask = NDArray[np.bool_]

FIRST_HALF_PX = 6.0  # 3.5 blurs of a usual photo plus shoulders
BLURS_IN_WINDOW, SHOULDER_PX = 3.5, 2.0
LEAST_BLUR_PX = 0.25  # below the pixel's own box, sqrt(1/12) px
SEEK_BLUR_PX = 1.2
ROUNDS = 25
SETTLED_PX = 2e-4  # noise is a hundred times that
LEVEL_SLACK = 0.25  # how far a fitted level may lie outside the pixels, per contrast
EYE = np.eye(4)
POOLED_DOF = 12.0  # weight of the typical noise beside a profile's own


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """Pixels beside each rough point: distance along the normal, value, weight."""

    distance_px: Floats
    value: Floats
    weight: Floats
    whole: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepFit:
    """One row (inside, outside, position, blur) per profile and its quality."""

    steps: Floats
    noise: Floats
    u_px: Floats


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
        return _kept(points, directions, fit, np.zeros(0, bool)), np.zeros(0, bool)
    start, clear = _seek(grey, points, directions, half_length_px, settings)
    begin = points + start[:, None] * directions
    fit, fitted = _fit_steps(grey, begin, directions, settings)
    offset = start + fit.steps[:, 2]
    good = clear & fitted & (np.abs(offset) <= half_length_px)
    good &= _is_sound(fit, settings)
    return _kept(points + offset[:, None] * directions, directions, fit, good), good


def _kept(points: Floats, normals: Floats, fit: StepFit, good: Mask) -> EdgePoints:
    inside, outside, _, blur = fit.steps[good].T
    return EdgePoints(
        points_px=points[good],
        normals=normals[good],
        blur_px=blur,
        inside=inside,
        outside=outside,
        u_px=fit.u_px[good],
    )


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
    """Collect pixels within ``half_px`` (n,) along each normal, by row or by column."""
    steep = np.abs(normals[:, 1]) > np.abs(normals[:, 0])
    reach = int(np.ceil(float(np.max(half_px)) * np.sqrt(2.0))) + 1
    along = np.arange(-reach, reach + 1)
    main, side = (
        np.tile(along, rows),
        np.repeat(np.arange(rows) - rows // 2, len(along)),
    )
    base = np.rint(points).astype(np.int64)
    column = base[:, :1] + np.where(steep[:, None], side, main)
    row = base[:, 1:] + np.where(steep[:, None], main, side)
    distance = (column - points[:, :1]) * normals[:, :1]
    distance += (row - points[:, 1:]) * normals[:, 1:]
    near = np.abs(distance) <= half_px[:, None]
    height, width = grey.shape
    within = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    value = grey[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)]
    return Window(
        distance_px=distance,
        value=value.astype(np.float64),
        weight=(near & within).astype(np.float64),
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
    window = _gather(grey, points, normals, half + 2.0 * SEEK_BLUR_PX, 1)
    reach = np.arange(-4.0, 5.0)
    kernel = reach * np.exp(-0.5 * (reach / SEEK_BLUR_PX) ** 2)
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
    steps = _solve_steps(window, _first_steps(window))
    most_px = BLURS_IN_WINDOW * settings.most_blur_px
    wanted = BLURS_IN_WINDOW * steps[:, 3] + SHOULDER_PX
    suited = np.clip(wanted, FIRST_HALF_PX, max(most_px, FIRST_HALF_PX))
    blurred = suited > FIRST_HALF_PX + 1.0
    fit, fitted = _judge_steps(window, steps)
    if not np.any(blurred):
        return fit, fitted
    moved = points[blurred] + steps[blurred, 2:3] * normals[blurred]
    wide = _gather(grey, moved, normals[blurred], suited[blurred], settings.rows)
    begin = steps[blurred] * (1.0, 1.0, 0.0, 1.0)
    again, good = _judge_steps(wide, _solve_steps(wide, begin))
    again.steps[:, 2] += steps[blurred, 2]
    fit.steps[blurred], fit.noise[blurred] = again.steps, again.noise
    fit.u_px[blurred], fitted[blurred] = again.u_px, good
    return fit, fitted


def _first_steps(window: Window) -> Floats:
    """Guess levels from either half of the window, position 0 and a usual blur."""
    steps = np.zeros((len(window.value), 4))
    steps[:, 3] = SEEK_BLUR_PX
    for level, half in enumerate((window.distance_px < -1, window.distance_px > 1)):
        share = window.weight * half
        total = np.sum(share * window.value, axis=1)
        steps[:, level] = total / np.maximum(share.sum(axis=1), 1.0)
    return steps


def _model(
    window: Window, steps: Floats, active: NDArray[np.int64] | None = None
) -> tuple[Floats, Floats]:
    """Give weighted residuals (n, m) and their derivatives (n, m, 4)."""
    rows = slice(None) if active is None else active
    weight = window.weight[rows]
    inside, outside, position, blur = (steps[:, [k]] for k in range(4))
    z = (window.distance_px[rows] - position) / blur
    share = ndtr(z)
    bell = np.exp(-0.5 * z * z) * ((outside - inside) / (blur * np.sqrt(2 * np.pi)))
    residual = window.value[rows] - (inside + (outside - inside) * share)
    slopes = np.stack([1.0 - share, share, -bell, -bell * z], axis=2)
    return residual * weight, slopes * weight[:, :, None]


def _solve_steps(window: Window, steps: Floats) -> Floats:
    """Minimise all profiles at once by Levenberg-Marquardt, each damped by itself."""
    steps = steps.copy()
    damping = np.full(len(steps), 1e-2)
    residual, slopes = _model(window, steps)
    cost = np.sum(residual**2, axis=1)
    active = np.arange(len(steps))
    for _ in range(ROUNDS):
        normal = slopes.transpose(0, 2, 1) @ slopes
        pull = slopes.transpose(0, 2, 1) @ residual[:, :, None]
        scale = np.einsum("nii->ni", normal) * damping[active, None] + 1e-12
        move = np.linalg.solve(normal + scale[:, :, None] * EYE, pull)[:, :, 0]
        trial = _bounded(steps[active] + move, steps[active])
        trial_residual, trial_slopes = _model(window, trial, active)
        trial_cost = np.sum(trial_residual**2, axis=1)
        better = trial_cost <= cost[active]
        damping[active] *= np.where(better, 0.1, 8.0)
        chosen = active[better]
        shift = np.max(np.abs(trial - steps[active])[:, 2:], axis=1)
        steps[chosen], cost[chosen] = trial[better], trial_cost[better]
        residual = np.where(better[:, None], trial_residual, residual)
        slopes = np.where(better[:, None, None], trial_slopes, slopes)
        going = shift > SETTLED_PX
        active, residual, slopes = active[going], residual[going], slopes[going]
        if active.size == 0:
            break
    return steps


def _bounded(trial: Floats, steps: Floats) -> Floats:
    """Keep one move of position and blur within what the profile can show."""
    trial[:, 2] = steps[:, 2] + np.clip(trial[:, 2] - steps[:, 2], -2.0, 2.0)
    least = np.maximum(0.5 * steps[:, 3], LEAST_BLUR_PX)
    trial[:, 3] = np.clip(trial[:, 3], least, 2.0 * steps[:, 3])
    return trial


def _judge_steps(window: Window, steps: Floats) -> tuple[StepFit, Mask]:
    """Give noise, the position's standard uncertainty and whether the fit holds."""
    residual, slopes = _model(window, steps)
    freedom = np.maximum(window.weight.sum(axis=1) - 4.0, 1.0)
    own = np.sum(residual**2, axis=1) / freedom
    pooled = (freedom * own + POOLED_DOF * np.median(own)) / (freedom + POOLED_DOF)
    normal = slopes.transpose(0, 2, 1) @ slopes
    ridge = 1e-9 * np.einsum("nii->ni", normal) + 1e-15
    inverse = np.linalg.inv(normal + ridge[:, :, None] * EYE)[:, 2, 2]
    u_px = np.sqrt(np.maximum(inverse * np.maximum(own, pooled), 0.0))
    reach = np.max(np.abs(window.distance_px) * window.weight, axis=1)
    fitted = window.whole & (np.abs(steps[:, 2]) < reach - steps[:, 3])
    fitted &= _levels_seen(window, steps)
    return StepFit(steps=steps, noise=np.sqrt(own), u_px=u_px), fitted


def _levels_seen(window: Window, steps: Floats) -> Mask:
    """Tell whether both levels lie near values that the pixels really reach."""
    some = window.weight > 0
    low = np.min(np.where(some, window.value, np.inf), axis=1)
    high = np.max(np.where(some, window.value, -np.inf), axis=1)
    slack = LEVEL_SLACK * np.maximum(high - low, 1e-6)
    least, most = np.min(steps[:, :2], axis=1), np.max(steps[:, :2], axis=1)
    return np.asarray((least >= low - slack) & (most <= high + slack))
