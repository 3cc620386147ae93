"""Widest points of the coils in, the spring's axis and its radius along it out.

Each widest point's ray grazes the coil: seen from above it passes the axis at the
coil's outside radius, whatever the distance (measurement model: tangent to a circle).
That keeps perspective and roundness out of the result without any small-angle step.
"""

from dataclasses import dataclass

import numpy as np

from calib.camera import directions
from calib.records import Camera, Floats
from vision.spring.flank import Coils

ROUNDS = 6
KNOTS = 9
BEND_MM = 0.15  # usual second difference of the radius between knots (taper, barrel)
HUBER_MM = 0.06
ROUND_EDGE_PX = (
    0.12  # a round wire mirrors the backdrop at its edge: seen so far inside
)
LEAST_COILS = 7  # widest points on both flanks together
LEAST_ON_ONE_SIDE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stance:
    """One assumption under which a spring is solved: what its view cannot show.

    ``depth_mm`` is the y of the foot, ``depth_slope`` dy/dz of the axis,
    ``edge_shift_px`` how far edges really lie outside of where they were located,
    ``rim_shift_mm`` how much wider than usual the ground end's rim is.
    """

    camera: Camera
    depth_mm: float = 0.0
    depth_slope: float = 0.0
    edge_shift_px: float = 0.0
    rim_shift_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """x = foot_x + slope z; the outside radius at ``knots_mm`` heights.

    ``heights_mm``, ``radii_mm`` and ``sides`` belong to the single coils; ``u_`` are
    from their scatter alone.
    """

    foot_x_mm: float
    slope: float
    knots_mm: Floats
    knot_radii_mm: Floats
    heights_mm: Floats
    radii_mm: Floats
    sides: Floats
    u_slope: float
    u_radius_mm: float
    scatter_mm: float

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
class _Rays:
    """Rays (n, 3) through widest points, their flanks (n,) and weights (n,)."""

    rays: Floats
    sides: Floats
    weights: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """One round: state (foot, slope, knot radii), residuals, design, hats, weights."""

    state: Floats
    residual: Floats
    design: Floats
    hats: Floats
    heights: Floats
    weights: Floats


def solve_axis(stance: Stance, left: Coils, right: Coils) -> Axis:
    """Solve foot, slope and radius by robust least squares over all coils.

    Raises
    ------
    ValueError
        When too few coils were seen.
    """
    points, sides, u_px = _joined(stance, left, right)
    fewest = min(len(left.u_px), len(right.u_px))
    if len(points) < LEAST_COILS or fewest < LEAST_ON_ONE_SIDE:
        raise ValueError(f"{len(left.u_px)} coils seen left, {len(right.u_px)} right")
    seen = _Rays(
        rays=directions(stance.camera, points),
        sides=sides,
        weights=np.minimum(1.0, np.median(u_px) / u_px),
    )
    state = _start(stance, seen.rays, sides)
    heights = _heights(stance, seen.rays, state)
    knots = np.linspace(float(heights.min()), float(heights.max()), KNOTS)
    fit = _solve_round(stance, seen, knots, state, np.ones(len(points)))
    for _ in range(ROUNDS - 1):
        limit = max(HUBER_MM, 1.5 * float(np.median(np.abs(fit.residual))))
        robust = np.minimum(1.0, limit / np.maximum(np.abs(fit.residual), 1e-9))
        fit = _solve_round(stance, seen, knots, fit.state[:2], robust)
    return _axis_of(fit, knots, sides)


def _solve_round(
    stance: Stance, seen: _Rays, knots: Floats, state: Floats, robust: Floats
) -> _Fit:
    """Solve once by weighted least squares, heights taken from the last state."""
    heights = _heights(stance, seen.rays, state)
    hats = _hats(heights, knots)
    across = seen.rays[:, :2] / np.linalg.norm(seen.rays[:, :2], axis=1)[:, None]
    offset = seen.sides * _passing(stance, across, heights)
    push = across[:, 1] * seen.sides
    design = np.column_stack([push, push * heights, hats])
    weights = seen.weights * robust
    root, bend = np.sqrt(weights), _bend_rows(2)
    rows = np.vstack([design * root[:, None], bend])
    target = np.concatenate([offset * root, np.zeros(len(bend))])
    solution = np.linalg.lstsq(rows, target, rcond=None)[0]
    return _Fit(
        state=solution,
        residual=design @ solution - offset,
        design=design,
        hats=hats,
        heights=heights,
        weights=weights,
    )


def _axis_of(fit: _Fit, knots: Floats, sides: Floats) -> Axis:
    freedom = max(float(fit.weights.sum()) - 4.0, 1.0)
    scatter = float(np.sqrt((fit.weights * fit.residual**2).sum() / freedom))
    bend = _bend_rows(2)
    normal = (fit.design * fit.weights[:, None]).T @ fit.design + bend.T @ bend
    covariance = np.linalg.inv(normal) * scatter**2
    radii = fit.state[2:]
    return Axis(
        foot_x_mm=float(fit.state[0]),
        slope=float(fit.state[1]),
        knots_mm=knots,
        knot_radii_mm=radii,
        heights_mm=fit.heights,
        radii_mm=fit.hats @ radii - fit.residual,
        sides=sides,
        u_slope=float(np.sqrt(covariance[1, 1])),
        u_radius_mm=float(np.sqrt(np.mean(np.diag(covariance)[2:]))),
        scatter_mm=scatter,
    )


def _joined(stance: Stance, left: Coils, right: Coils) -> tuple[Floats, Floats, Floats]:
    shift = stance.edge_shift_px + ROUND_EDGE_PX
    points = np.vstack(
        [each.points_px + shift * each.outward for each in (left, right)]
    )
    sides = np.concatenate(
        [np.full(len(each.u_px), float(each.side)) for each in (left, right)]
    )
    return points, sides, np.concatenate([left.u_px, right.u_px])


def _start(stance: Stance, rays: Floats, sides: Floats) -> Floats:
    camera = stance.camera.position_mm
    far = (stance.depth_mm - camera[1]) / rays[:, 1]
    x = camera[0] + far * rays[:, 0]
    middle = (x[sides < 0].mean() + x[sides > 0].mean()) / 2
    return np.array([middle, 0.0])


def _heights(stance: Stance, rays: Floats, state: Floats) -> Floats:
    """Where each ray passes the axis, seen from above: its height there."""
    camera = stance.camera.position_mm
    flat = (rays[:, :2] ** 2).sum(axis=1)
    height = np.zeros(len(rays))
    for _ in range(3):
        x = state[0] + state[1] * height
        y = stance.depth_mm + stance.depth_slope * height
        far = ((x - camera[0]) * rays[:, 0] + (y - camera[1]) * rays[:, 1]) / flat
        height = camera[2] + far * rays[:, 2]
    return np.asarray(height)


def _passing(stance: Stance, across: Floats, heights: Floats) -> Floats:
    """Signed distance at which each ray passes x = 0, positive to its right."""
    camera = stance.camera.position_mm
    y = stance.depth_mm + stance.depth_slope * heights - camera[1]
    return np.asarray(across[:, 0] * y + across[:, 1] * camera[0])


def _hats(heights: Floats, knots: Floats) -> Floats:
    step = knots[1] - knots[0]
    return np.asarray(
        np.maximum(0.0, 1.0 - np.abs(heights[:, None] - knots[None]) / step)
    )


def _bend_rows(before: int) -> Floats:
    """Pseudo-observations: the radius bends little from knot to knot."""
    rows = np.zeros((KNOTS - 2, before + KNOTS))
    for k in range(KNOTS - 2):
        rows[k, before + k : before + k + 3] = (1.0, -2.0, 1.0)
    return rows * (0.05 / BEND_MM)
