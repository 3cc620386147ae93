"""Edge points of the top in, the height of the ground end's plane out.

A ground end is a flat about three quarters of a turn long with a thin tip; before the
flat begins the wire lies lower. Which part of that rim makes the outline depends on the
lens's height, so the end is laid out as points in space for every place of its tip,
both hands of winding and a full rim, projected, and held against the edge points.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.records import EdgePoints, Floats
from vision.spring.axis import Axis, Stance

AROUND = 180  # points of the rim
TIPS = 24  # places of the tip tried, for each hand
FLAT_TURN = 0.75  # share of a turn that is ground flat (common practice)
TIP_THICKNESS = 0.25  # wire left at the tip, in wire diameters (common practice)
GAP_TRUST = 0.3  # how far down the wire lies before the flat begins is not standard
USUAL_DROP = 0.3  # u of that drop, as a share of it
MELTED_TRUST = 0.35  # glare hides the outermost edge; nothing shows one farther out
INNER = 0.8  # share of the radius within which the top is read
MOST_POINTS = 120
INDEPENDENT = 4.0  # parts of the top edge whose errors have nothing in common
ROUNDS, ROUGH_ROUNDS = 4, 2
HOPEFUL = 10  # shapes that are fitted to the end after a first round
LEVEL_PX = 0.35  # usual scatter of located edges about a sound model
MOST_OFF = 4.0  # sigmas by which one point may count against a shape
EFFECTIVE_POINTS = 12  # neighbouring edge points err alike
MOST_SLOPE = 0.002  # usual out-of-parallel of the end, mm per mm
USUAL_TILT = 0.0008  # the end's highest point lies above its middle by this x radius
STEEPEST = 0.016  # an end this far out of parallel is worn or bent

Shape = tuple[int, float]  # hand (0 full rim, +1, -1) and azimuth of the tip, rad


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Top:
    """Height of the end's plane and how it was reached.

    ``slope`` is the plane's fall or rise per mm across; ``spread_mm`` how much shapes
    of the end that explain the outline as well would change the height. ``makers_mm``
    (n, 3), about the end's centre, are the points of the rim that made the outline and
    ``weights`` (n,) what their edge points counted.
    """

    height_mm: float
    slope: float
    u_noise_mm: float
    spread_mm: float
    shape: Shape
    misfit_px: float
    points: int
    makers_mm: Floats
    weights: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """The top's edge points in picture axes along and up at the spring's top."""

    along: Floats
    up: Floats
    origin_px: Floats
    axes: Floats  # rows: along, up
    px_per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Rough height to begin with, and the wire's diameter."""

    height_mm: float
    wire_mm: float


def shapes() -> tuple[Shape, ...]:
    """Every end that is tried."""
    tips = np.linspace(0.0, 2 * np.pi, TIPS, endpoint=False)
    return ((0, 0.0), *((hand, float(tip)) for hand in (1, -1) for tip in tips))


def _between(shape: Shape) -> tuple[Shape, ...]:
    """Places of the tip between those tried."""
    hand, tip = shape
    step = 2 * np.pi / TIPS
    return tuple(
        (hand, tip + step * part) for part in (-0.67, -0.33, 0.33, 0.67) if hand
    )


def rim_points(shape: Shape, radius_mm: float, wire_mm: float) -> Floats:
    """Points (2, n, 3) of the end's edges, outer and inner, about its centre.

    z = 0 is the ground plane. Seen over a gap, the nearest (lens below the end) or
    farthest edge of the flat makes the outline, so both edges are needed.
    """
    hand, tip = shape
    turn = np.linspace(0.0, 1.0, AROUND, endpoint=False)
    half = wire_mm / 2
    mean = radius_mm - half
    cut = wire_mm * (turn - TIP_THICKNESS) if hand else np.zeros(AROUND)
    flat = turn < FLAT_TURN if hand else np.ones(AROUND, dtype=bool)
    width = np.sqrt(np.maximum(half**2 - np.clip(cut, -half, half) ** 2, 0.0))
    drop = np.where(flat, 0.0, wire_mm * (turn - FLAT_TURN))
    angle = tip + (hand or 1) * 2 * np.pi * turn
    course = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.stack(
        [
            np.column_stack([(mean + sign * width)[:, None] * course, -drop])
            for sign in (1, -1)
        ]
    )


def view_top(stance: Stance, axis: Axis, height_mm: float, edges: EdgePoints) -> View:
    """Turn edge points into the picture axes at the top, thinned and without ends."""
    centre = _centre(stance, axis, height_mm)
    probe = centre + np.array([[0.0, 0, 0], [1, 0, 0], [0, 0, 1]])
    origin, right, above = project(stance.camera, probe)
    along = (right - origin) / np.linalg.norm(right - origin)
    up = np.array([along[1], -along[0]])
    up = up * np.sign(up @ (above - origin))
    moved = edges.points_px + stance.edge_shift_px * edges.normals
    axes = np.vstack([along, up])
    local = (moved - origin) @ axes.T
    scale = float(np.linalg.norm(right - origin))
    near = np.abs(local[:, 0]) < INNER * axis.radius_at(height_mm) * scale
    local = local[near]
    step = max(1, len(local) // MOST_POINTS)
    return View(
        along=local[::step, 0],
        up=local[::step, 1],
        origin_px=origin,
        axes=axes,
        px_per_mm=scale,
    )


def _centre(stance: Stance, axis: Axis, height_mm: float) -> Floats:
    depth = stance.depth_mm + stance.depth_slope * height_mm
    return np.array([axis.x_at(height_mm), depth, height_mm])


def upper_edge(
    stance: Stance, centre: Floats, rim: Floats, view: View
) -> tuple[Floats, NDArray[np.intp]]:
    """Predicted outline: the highest image of the rim above each edge point.

    Returns the level (m,), -inf where no rim is, and which rim point (m,) made it.
    """
    image = project(stance.camera, rim.reshape(-1, 3) + centre) - view.origin_px
    image = (image @ view.axes.T).reshape(rim.shape[0], -1, 2)
    ahead = np.roll(image, -1, axis=1).reshape(-1, 2)
    image = image.reshape(-1, 2)
    low = np.minimum(image[:, 0], ahead[:, 0])[:, None]
    high = np.maximum(image[:, 0], ahead[:, 0])[:, None]
    crosses = (view.along >= low) & (view.along <= high)
    run = ahead[:, 0] - image[:, 0]
    run = np.where(np.abs(run) < 1e-9, 1e-9, run)  # noqa: PLR2004
    share = (view.along[None] - image[:, :1]) / run[:, None]
    up = image[:, 1:] + share * (ahead[:, 1:] - image[:, 1:])
    levels = np.where(crosses, up, -np.inf)
    maker = levels.argmax(axis=0)
    return levels[maker, np.arange(len(maker))], maker


def solve_top(
    stance: Stance,
    axis: Axis,
    edges: EdgePoints,
    start_mm: float,
    wire_mm: float,
    tried: tuple[Shape, ...],
) -> Top:
    """Solve the end's height for each shape tried and weigh them by their misfit.

    Raises
    ------
    ValueError
        When no edge point lies over the end.
    """

    start = Start(height_mm=start_mm, wire_mm=wire_mm)

    def fit_all(these: tuple[Shape, ...], rounds: int) -> list[Top]:
        fits = (_fit(stance, axis, edges, start, shape, rounds) for shape in these)
        found = [fit for fit in fits if fit is not None]
        return sorted(found, key=lambda fit: fit.misfit_px)

    whole = _fit(stance, axis, edges, start, (0, 0.0), ROUNDS)
    if whole is None:
        raise ValueError("no edge of the top end was found")
    start = Start(height_mm=whole.height_mm, wire_mm=wire_mm)
    rough = [whole, *fit_all(tried, ROUGH_ROUNDS)]
    rough.sort(key=lambda fit: fit.misfit_px)
    fits = fit_all(tuple(fit.shape for fit in rough[:HOPEFUL]), ROUNDS)
    fits += fit_all(_between(fits[0].shape), ROUNDS)
    cost = np.array([fit.misfit_px for fit in fits])
    weight = np.exp(-(cost - cost.min()))
    weight = weight / weight.sum()
    heights = np.array([fit.height_mm for fit in fits])
    best = fits[int(np.argmin(cost))]
    mean = float(weight @ heights)
    rise = axis.radius_at(best.height_mm) * float(np.hypot(best.slope, USUAL_TILT))
    return Top(
        height_mm=best.height_mm + rise,
        slope=best.slope,
        u_noise_mm=best.u_noise_mm,
        spread_mm=float(np.hypot(np.sqrt(weight @ (heights - mean) ** 2), rise)),
        shape=best.shape,
        misfit_px=best.misfit_px,
        points=best.points,
        makers_mm=best.makers_mm,
        weights=best.weights,
    )


def moved_height(
    top: Top, base: tuple[Stance, Axis], other: tuple[Stance, Axis]
) -> float:
    """Height of the end under another stance, from the same edge points and weights.

    A fresh robust fit could change its mind about single points, and a difference of
    two fits would show that and not the influence.
    """
    (stance, axis), (moved, moved_axis) = base, other
    height = top.height_mm  # of the highest point; close enough to the middle's here
    wider = moved_axis.radius_at(height) + moved.rim_shift_mm
    scale = wider / (axis.radius_at(height) + stance.rim_shift_mm)
    spread = np.array([scale, scale, 1.0])
    before = project(stance.camera, top.makers_mm + _centre(stance, axis, height))
    makers = top.makers_mm * spread + _centre(moved, moved_axis, height)
    after = project(moved.camera, makers)
    raised = project(stance.camera, top.makers_mm + _centre(stance, axis, height + 1))
    rise = (raised - before).mean(axis=0)
    px_per_mm = float(np.linalg.norm(rise))
    fell = top.weights @ ((before - after) @ (rise / px_per_mm)) / top.weights.sum()
    wider_px = moved.edge_shift_px - stance.edge_shift_px
    return float(height + (fell + wider_px) / px_per_mm)


def _fit(
    stance: Stance,
    axis: Axis,
    edges: EdgePoints,
    start: Start,
    shape: Shape,
    rounds: int,
) -> Top | None:
    height, slope = start.height_mm, 0.0
    radius = axis.radius_at(height - start.wire_mm / 2) + stance.rim_shift_mm
    rim = rim_points(shape, radius, start.wire_mm)
    residual, weight, drop = np.zeros(0), np.zeros(0), np.zeros(0)
    view, move = view_top(stance, axis, height, edges), np.zeros(3)
    makers = np.zeros((0, 3))
    if len(view.along) == 0:
        return None
    for _ in range(rounds):
        view = view_top(stance, axis, height, edges)
        tilted = rim + slope * rim[..., :1] * np.array([0.0, 0.0, 1.0])
        centre = _centre(stance, axis, height)
        predicted, maker = upper_edge(stance, centre, tilted, view)
        seen = np.isfinite(predicted)
        if not seen.any():
            return None
        residual = (view.up - predicted)[seen]
        makers = tilted.reshape(-1, 3)[maker[seen]]
        drop = rim.reshape(-1, 3)[maker[seen], 2]
        across = view.along[seen] / view.px_per_mm
        move, weight = _robust_level(
            across, drop, residual / view.px_per_mm, view.px_per_mm
        )
        height = height + move[0]
        slope = float(np.clip(slope + move[1], -STEEPEST, STEEPEST))
        if abs(move[0]) < 1e-4:  # noqa: PLR2004 - a tenth of a micrometre
            break
    residual = residual - move[2] * drop * view.px_per_mm
    count = max(float(weight.sum()), 1.0)
    spread = np.sqrt((weight * residual**2).sum() / count) / view.px_per_mm
    off = np.minimum(np.abs(residual) / LEVEL_PX, MOST_OFF)
    cost = float(np.mean(off * np.where(drop < 0, 0.5, 1.0)) * EFFECTIVE_POINTS)
    cost += (slope / MOST_SLOPE) ** 2 / 2
    return Top(
        height_mm=float(height),
        slope=float(slope),
        u_noise_mm=float(spread / np.sqrt(INDEPENDENT)),
        spread_mm=0.0,
        shape=shape,
        misfit_px=cost,
        points=int(seen.sum()),
        makers_mm=makers,
        weights=np.maximum(weight, 1e-6),
    )


def _robust_level(
    across: Floats, drop: Floats, up_mm: Floats, px_per_mm: float
) -> tuple[Floats, NDArray[np.float64]]:
    """Level, slope and share of drop that are left, bad points weighted down.

    Tukey's biweight; slope and drop are held near what is usual.
    """
    design = np.column_stack([np.ones_like(across), across, drop])
    firm = up_mm[drop >= 0] if (drop >= 0).any() else up_mm
    move = np.array([float(np.median(firm)), 0.0, 0.0])
    prior = np.diag([0.0, 1.0 / MOST_SLOPE**2, 1.0 / USUAL_DROP**2])
    trust = np.where(drop < 0, GAP_TRUST, 1.0)
    sigma = LEVEL_PX / px_per_mm * np.sqrt(max(len(up_mm) / EFFECTIVE_POINTS, 1))
    weight = trust
    for _ in range(6):
        rest = up_mm - design @ move
        limit = 4.7 * max(1.4826 * float(np.median(np.abs(rest))), LEVEL_PX / px_per_mm)
        weight = trust * np.maximum(0.0, 1 - (rest / limit) ** 2) ** 2
        weight = np.where(rest < -LEVEL_PX / px_per_mm, MELTED_TRUST, 1.0) * weight
        normal = (design * (weight / sigma**2)[:, None]).T @ design + prior
        move = np.linalg.solve(normal, design.T @ (weight / sigma**2 * up_mm))
    return move, weight
