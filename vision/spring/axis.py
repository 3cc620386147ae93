"""Widest points of the coils in, the spring's axis and its radius along it out.

Each widest point's ray grazes the coil: seen from above it passes the axis at the
coil's outside radius, whatever the distance (measurement model: tangent to a circle).
That keeps perspective and roundness out of the result without any small-angle step.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import Floats
from vision.spring.flank import Coils
from vision.spring.rays import Rays, Stance, look_along

ROUNDS = 6
KNOTS = 7
BEND_MM = 0.1  # usual second difference of the radius between knots (taper, barrel)
END_WIRES = 0.25  # at each end, in wire diameters, whose radius is that beside it
HUBER_MM = 0.06
LEAST_COILS, LEAST_ON_ONE_SIDE = 4, 2  # widest points, on both flanks and on one
MANY_COILS = 9  # that tell their own scatter
USUAL_SCATTER_MM, WORTH = 0.08, 6.0  # believed of few coils, as much as so many
USUAL_SLOPE = 0.03  # lean of springs in use, about 1.7 deg
NOISE_MM = 0.05  # of one coil, against which beliefs are weighed
# Pseudo-observations: the radius bends little from knot to knot, or freely (beehive);
# the axis is upright.
BEND = np.diff(np.eye(2 + KNOTS)[2:], n=2, axis=0) * (NOISE_MM / BEND_MM)
UPRIGHT = np.eye(2 + KNOTS)[1:2] * (NOISE_MM / USUAL_SLOPE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """x = foot_x + slope z; the outside radius at ``knots_mm`` heights.

    ``heights_mm``, ``radii_mm`` and ``sides`` belong to the single coils; ``u_`` are
    from their scatter alone, ``u_mean_mm`` of the radius over all that was seen.
    """

    foot_x_mm: float
    slope: float
    knots_mm: Floats
    knot_radii_mm: Floats
    heights_mm: Floats
    radii_mm: Floats
    sides: Floats
    u_slope: float
    u_knots_mm: Floats
    u_mean_mm: float
    scatter_mm: float

    @property
    def u_radius_mm(self) -> float:
        """Usual u of the radius along the spring."""
        return float(np.sqrt(np.mean(self.u_knots_mm**2)))

    def radius_at(self, height_mm: float) -> float:
        """Outside radius at a height."""
        return float(self.radii_at(np.array(height_mm)))

    def radii_at(self, heights_mm: Floats) -> Floats:
        """Outside radii at heights (n,)."""
        return np.interp(heights_mm, self.knots_mm, self.knot_radii_mm)

    def x_at(self, height_mm: float) -> float:
        """Axis x at a height."""
        return self.foot_x_mm + self.slope * height_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """One round under v stances: states (foot, slope, knot radii) and what led there.

    ``normal`` (v, k, k) are the equations' left sides, ``spent`` (v,) the freedom that
    the coils lost to them, not to the usual bend; all others are (v, n).
    """

    state: Floats
    residual: Floats
    normal: Floats
    spent: Floats
    heights: Floats
    radii: Floats
    weights: Floats


def solve_axis(stance: Stance, left: Coils, right: Coils) -> Axis:
    """Solve foot, slope and radius by robust least squares over all coils.

    Raises
    ------
    ValueError
        When too few coils were seen.
    """
    return solve_axes((stance,), left, right)[0]


def solve_axes(
    stances: tuple[Stance, ...], left: Coils, right: Coils
) -> tuple[Axis, ...]:
    """Solve the axis under each stance, see `solve_axis`."""
    counts = len(left.u_px), len(right.u_px)
    if sum(counts) < LEAST_COILS or min(counts) < LEAST_ON_ONE_SIDE:
        raise ValueError(f"{counts[0]} coils seen left, {counts[1]} right")
    seen = look_along(stances, left, right)
    state = _start(seen)
    heights = seen.heights(state)
    knots = _knots(stances, heights, np.concatenate([left.radius_px, right.radius_px]))
    fit = _solve_round(seen, knots, state, np.ones_like(heights))
    for _ in range(ROUNDS - 1):
        away = np.abs(fit.residual)
        limit = 1.5 * np.median(away, axis=1, keepdims=True)
        robust = np.maximum(limit, HUBER_MM) / np.maximum(away, 1e-9)
        fit = _solve_round(seen, knots, fit.state, np.minimum(1.0, robust))
    return _axes_of(fit, knots, seen.sides)


def _knots(stances: tuple[Stance, ...], heights: Floats, radii_px: Floats) -> Floats:
    """Put knots (v, KNOTS) along the spring, but for a quarter of a wire at its ends.

    The closed coil at an end keeps its radius, or goes on tapering: half way between.
    """
    mm_per_px = np.array([each.mm_per_px for each in stances])
    inset = END_WIRES * 2 * float(np.median(radii_px)) * mm_per_px
    low, high = heights.min(axis=1) + inset, heights.max(axis=1) - inset
    return np.linspace(low, high, KNOTS, axis=1)


def _start(seen: Rays) -> Floats:
    """Put the foot midway between the flanks, the axis upright; radii are not known."""
    far = (seen.depth_mm - seen.camera_mm[:, 1:2]) / seen.rays[..., 1]
    x = seen.camera_mm[:, :1] + far * seen.rays[..., 0]
    left, right = (x[:, seen.sides * side > 0].mean(axis=1) for side in (-1, 1))
    return np.column_stack([(left + right) / 2, np.zeros((len(x), 1 + KNOTS))])


def _solve_round(seen: Rays, knots: Floats, state: Floats, robust: Floats) -> _Fit:
    """Solve once by weighted least squares, heights taken from the last state."""
    heights = seen.heights(state)
    offset, push = seen.passing(heights)
    hats = _hats(heights, knots)
    design = np.concatenate([np.stack([push, push * heights], axis=2), hats], axis=2)
    weights = seen.weights * robust
    weighted = (design * weights[..., None]).swapaxes(1, 2)
    normal = weighted @ design + _stiffness(state)
    solution = np.linalg.solve(normal, weighted @ offset[..., None])
    residual = (design @ solution)[..., 0] - offset
    return _Fit(
        state=solution[..., 0],
        residual=residual,
        normal=normal,
        spent=np.trace(np.linalg.solve(normal, weighted @ design), axis1=1, axis2=2),
        heights=heights,
        radii=(hats @ solution[:, 2:])[..., 0] - residual,
        weights=weights,
    )


def _stiffness(state: Floats) -> Floats:
    """Hold the radius to its usual bend (v, k, k), where it does not clearly bend more.

    As a Cauchy distribution of bends would: most springs are straight, some are not.
    """
    bend = state @ BEND.T / NOISE_MM
    weight = 1.0 / (1.0 + bend**2)
    return np.asarray((BEND.T * weight[:, None]) @ BEND + UPRIGHT.T @ UPRIGHT)


def _axes_of(fit: _Fit, knots: Floats, sides: Floats) -> tuple[Axis, ...]:
    freedom = np.maximum(fit.weights.sum(axis=1) - fit.spent, 0.0)
    squares = (fit.weights * fit.residual**2).sum(axis=1)
    if len(sides) < MANY_COILS:
        freedom, squares = freedom + WORTH, squares + WORTH * USUAL_SCATTER_MM**2
    scatter = np.sqrt(squares / np.maximum(freedom, 1.0))
    covariance = np.linalg.inv(fit.normal)
    u = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2)) * scatter[:, None]
    u_mean = np.sqrt(covariance[:, 2:, 2:].mean(axis=(1, 2))) * scatter
    return tuple(
        Axis(
            foot_x_mm=float(state[0]),
            slope=float(state[1]),
            knots_mm=knots[row],
            knot_radii_mm=state[2:],
            heights_mm=fit.heights[row],
            radii_mm=fit.radii[row],
            sides=sides,
            u_slope=float(u[row, 1]),
            u_knots_mm=u[row, 2:],
            u_mean_mm=float(u_mean[row]),
            scatter_mm=float(scatter[row]),
        )
        for row, state in enumerate(fit.state)
    )


def _hats(heights: Floats, knots: Floats) -> Floats:
    step = (knots[:, 1] - knots[:, 0])[:, None, None]
    within = np.clip(heights, knots[:, :1], knots[:, -1:])
    away = np.abs(within[:, :, None] - knots[:, None]) / step
    return np.asarray(np.maximum(0.0, 1.0 - away))
