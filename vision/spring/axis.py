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
KNOTS = 5
BEND_MM = 0.25  # usual second difference of the radius between knots (taper, barrel)
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
        return float(np.interp(height_mm, self.knots_mm, self.knot_radii_mm))

    def x_at(self, height_mm: float) -> float:
        """Axis x at a height."""
        return self.foot_x_mm + self.slope * height_mm


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
    rays = directions(stance.camera, points)
    state = _start(stance, rays, sides)
    heights = _heights(stance, rays, state)
    knots = np.linspace(float(heights.min()), float(heights.max()), KNOTS)
    scale = np.linalg.norm(rays[:, :2], axis=1)
    across = rays[:, :2] / scale[:, None]
    weight = np.minimum(1.0, np.median(u_px) / u_px)
    robust = np.ones(len(points))
    residual, design = np.zeros(len(points)), np.zeros((0, 0))
    for _ in range(ROUNDS):
        heights = _heights(stance, rays, state)
        hats = _hats(heights, knots)
        offset = _passing(stance, across, heights, np.zeros(2))
        pull = -across[:, 1] * sides
        design = np.column_stack([-pull, -pull * heights, hats])
        bend = _bend_rows(2)
        w = np.sqrt(weight * robust)
        rows = np.vstack([design * w[:, None], bend])
        target = np.concatenate([sides * offset * w, np.zeros(len(bend))])
        solution = np.linalg.lstsq(rows, target, rcond=None)[0]
        state = solution[:2]
        residual = design @ solution - sides * offset
        limit = max(HUBER_MM, 1.5 * float(np.median(np.abs(residual))))
        robust = np.minimum(1.0, limit / np.maximum(np.abs(residual), 1e-9))
    w2 = weight * robust
    freedom = max(float(w2.sum()) - 4.0, 1.0)
    scatter = float(np.sqrt((w2 * residual**2).sum() / freedom))
    normal = (design * w2[:, None]).T @ design + bend.T @ bend
    covariance = np.linalg.inv(normal) * scatter**2
    return Axis(
        foot_x_mm=float(state[0]),
        slope=float(state[1]),
        knots_mm=knots,
        knot_radii_mm=solution[2:],
        heights_mm=heights,
        radii_mm=solution[2:] @ hats.T - residual,
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
    return height


def _passing(stance: Stance, across: Floats, heights: Floats, state: Floats) -> Floats:
    """Signed distance at which each ray passes the axis, positive to its right."""
    camera = stance.camera.position_mm
    x = state[0] + state[1] * heights - camera[0]
    y = stance.depth_mm + stance.depth_slope * heights - camera[1]
    return np.asarray(across[:, 0] * y - across[:, 1] * x)


def _hats(heights: Floats, knots: Floats) -> Floats:
    step = knots[1] - knots[0]
    return np.maximum(0.0, 1.0 - np.abs(heights[:, None] - knots[None]) / step)


def _bend_rows(before: int) -> Floats:
    """Pseudo-observations: the radius bends little from knot to knot."""
    rows = np.zeros((KNOTS - 2, before + KNOTS))
    for k in range(KNOTS - 2):
        rows[k, before + k : before + k + 3] = (1.0, -2.0, 1.0)
    return rows * (0.05 / BEND_MM)
