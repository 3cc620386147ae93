"""Pixels beside rough edge points in, the blurred steps that fit them best out.

A step is I(d) = inside + (outside - inside) Phi((d - position) / blur) over the
distance d along the edge's normal. All profiles are solved at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import Floats, Rows

Mask = NDArray[np.bool_]

LEAST_BLUR_PX = 0.25  # below the pixel's own box, sqrt(1/12) px
USUAL_BLUR_PX = 1.2
ROUNDS = 25
SETTLED_PX = 2e-4  # noise is a hundred times that
LEVEL_SLACK = 0.25  # how far a fitted level may lie outside the pixels, per contrast
POOLED_DOF = 12.0  # weight of the typical noise beside a profile's own
DIAGONAL = np.arange(4)
ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))
TAIL = tuple(
    factor / ROOT_TWO_PI
    for factor in (1.330274429, -1.821255978, 1.781477937, -0.356563782, 0.319381530)
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window(Rows):
    """Pixels (n, m) beside each rough point: distance along the normal and value.

    ``used`` is 1 for those that count, 0 for others; ``whole`` (n,) tells whether none
    of the former lies outside the picture.
    """

    distance_px: Floats
    value: Floats
    used: Floats
    whole: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepFit:
    """One row (inside, outside, position, blur) per profile and its quality."""

    steps: Floats
    noise: Floats
    u_px: Floats


def first_steps(window: Window) -> Floats:
    """Guess levels from either half of the window, position 0 and a usual blur."""
    steps = np.zeros((len(window.value), 4))
    steps[:, 3] = USUAL_BLUR_PX
    for level, half in enumerate((window.distance_px < -1, window.distance_px > 1)):
        share = window.used * half
        total = np.sum(share * window.value, axis=1)
        steps[:, level] = total / np.maximum(share.sum(axis=1), 1.0)
    return steps


def _hold(window: Window, steps: Floats) -> tuple[Floats, Floats]:
    """Hold steps against the pixels: squares left (n,), normal equations (n, 4, 5).

    The equations' last column is their right side.
    """
    inside, outside, position, blur = steps.T[:, :, None]
    z = (window.distance_px - position) / blur
    share, bell = blurred_step(z)
    rise, used = outside - inside, window.used
    planes = np.empty((5, *z.shape))
    planes[0], planes[1] = used * (1.0 - share), used * share
    planes[2] = used * bell * (-rise / (blur * ROOT_TWO_PI))
    planes[3] = planes[2] * z
    planes[4] = used * (window.value - inside - rise * share)
    by_profile = planes.transpose(1, 0, 2)
    equations = by_profile[:, :4] @ by_profile.transpose(0, 2, 1)
    return np.sum(planes[4] ** 2, axis=1), equations


def blurred_step(z: Floats) -> tuple[Floats, Floats]:
    """Give the step Phi(z) and exp(-z^2 / 2), its slope times the root of 2 pi.

    Within 7.5e-8 (Abramowitz and Stegun 1964, 26.2.17), in a third of the time that
    the last digits would take.
    """
    bell = np.exp(-0.5 * z * z)
    t = 1.0 / (1.0 + 0.2316419 * np.abs(z))
    tail = np.zeros_like(z)
    for factor in TAIL:
        tail += factor
        tail *= t
    tail *= bell
    return 0.5 + np.copysign(0.5 - tail, z), bell


def solve_steps(window: Window, steps: Floats) -> Floats:
    """Minimise all profiles at once by Levenberg-Marquardt, each damped by itself."""
    steps = steps.copy()
    active, damping = np.arange(len(steps)), np.full(len(steps), 1e-2)
    cost, equations = _hold(window, steps)
    for _ in range(ROUNDS):
        now = steps[active]
        trial = _bounded(now + _damped_move(equations, damping), now)
        trial_cost, trial_equations = _hold(window, trial)
        better = trial_cost <= cost
        steps[active[better]] = trial[better]
        cost[better], equations[better] = trial_cost[better], trial_equations[better]
        damping *= np.where(better, 0.1, 8.0)
        going = np.max(np.abs(trial - now)[:, 2:], axis=1) > SETTLED_PX
        if going.all():
            continue
        left = np.flatnonzero(going)
        if left.size == 0:
            break
        active, damping, window = active[left], damping[left], window.chosen(left)
        cost, equations = cost[left], equations[left]
    return steps


def _damped_move(equations: Floats, damping: Floats) -> Floats:
    """Solve the normal equations (n, 4, 5), their diagonals raised by damping (n,)."""
    normal = equations[:, :, :4].copy()
    normal[:, DIAGONAL, DIAGONAL] *= 1.0 + damping[:, None]
    normal[:, DIAGONAL, DIAGONAL] += 1e-12
    return np.asarray(np.linalg.solve(normal, equations[:, :, 4:])[:, :, 0])


def _bounded(trial: Floats, steps: Floats) -> Floats:
    """Keep one move of position and blur within what the profile can show."""
    trial[:, 2] = steps[:, 2] + np.clip(trial[:, 2] - steps[:, 2], -2.0, 2.0)
    least = np.maximum(0.5 * steps[:, 3], LEAST_BLUR_PX)
    trial[:, 3] = np.clip(trial[:, 3], least, 2.0 * steps[:, 3])
    return trial


def judge_steps(window: Window, steps: Floats) -> tuple[StepFit, Mask]:
    """Give noise, the position's standard uncertainty and whether the fit holds."""
    cost, equations = _hold(window, steps)
    freedom = np.maximum(window.used.sum(axis=1) - 4.0, 1.0)
    own = cost / freedom
    pooled = (freedom * own + POOLED_DOF * np.median(own)) / (freedom + POOLED_DOF)
    normal = equations[:, :, :4]
    normal[:, DIAGONAL, DIAGONAL] *= 1 + 1e-9
    normal[:, DIAGONAL, DIAGONAL] += 1e-15
    inverse = np.linalg.inv(normal)[:, 2, 2]
    u_px = np.sqrt(np.maximum(inverse * np.maximum(own, pooled), 0.0))
    reach = np.max(np.abs(window.distance_px) * window.used, axis=1)
    fitted = window.whole & (np.abs(steps[:, 2]) < reach - steps[:, 3])
    fitted &= _levels_seen(window, steps)
    return StepFit(steps=steps, noise=np.sqrt(own), u_px=u_px), fitted


def _levels_seen(window: Window, steps: Floats) -> Mask:
    """Tell whether both levels lie near values that the pixels really reach."""
    some = window.used > 0
    low = np.min(np.where(some, window.value, np.inf), axis=1)
    high = np.max(np.where(some, window.value, -np.inf), axis=1)
    slack = LEVEL_SLACK * np.maximum(high - low, 1e-6)
    least, most = np.min(steps[:, :2], axis=1), np.max(steps[:, :2], axis=1)
    return np.asarray((least >= low - slack) & (most <= high + slack))
