"""Edge points of the top in, the height of the ground end's plane out.

A ground end is a flat about three quarters of a turn long with a thin tip; before the
flat begins the wire lies lower. Which part of that rim makes the outline depends on the
lens's height, so the end is laid out as points in space for every place of its tip,
both hands of winding and a full rim, projected, and held against the edge points.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats
from vision.spring.axis import Axis, Stance
from vision.spring.ground_end import Shape, between, rim_points
from vision.spring.skyline import centre_of, upper_edge, view_top

GAP_TRUST = 0.3  # how far down the wire lies before the flat begins is not standard
USUAL_DROP = 0.3  # u of that drop, as a share of it
MELTED_TRUST = 0.35  # glare hides the outermost edge; nothing shows one farther out
INDEPENDENT = 4.0  # parts of the top edge whose errors have nothing in common
ROUNDS, ROUGH_ROUNDS = 4, 2
SETTLED_MM = 1e-4
HOPEFUL = 10  # shapes that are fitted to the end after a first round
LEVEL_PX = 0.35  # usual scatter of located edges about a sound model
MOST_OFF = 4.0  # sigmas by which one point may count against a shape
EFFECTIVE_POINTS = 12  # neighbouring edge points err alike
MOST_SLOPE = 0.002  # usual out-of-parallel of the end, mm per mm
USUAL_TILT = 0.0008  # the end's highest point lies above its middle by this x radius
STEEPEST = 0.016  # an end this far out of parallel is worn or bent


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Top:
    """Height of the end's plane and how it was reached.

    ``slope`` is the plane's fall or rise per mm across; ``spread_mm`` how much shapes
    of the end that explain the outline as well would change the height; ``rise_mm`` how
    far its highest point lies over its middle. ``held`` are the edge points that were
    held against it, ``weights`` (n,) what they counted, ``level_mm`` what they left.
    """

    height_mm: float
    slope: float
    u_noise_mm: float
    spread_mm: float
    shape: Shape
    misfit_px: float
    rise_mm: float
    held: EdgePoints
    weights: Floats
    level_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """The upper end of a spring: how it is looked at, and its edge points."""

    stance: Stance
    axis: Axis
    edges: EdgePoints
    wire_mm: float


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
    end = End(stance=stance, axis=axis, edges=edges, wire_mm=wire_mm)
    rough = search_shapes(end, start_mm, tried)
    start_mm = rough[0].height_mm
    hopeful = tuple(fit.shape for fit in rough[:HOPEFUL])
    fits = fit_shapes(end, start_mm, hopeful, ROUNDS)
    fits += fit_shapes(end, start_mm, between(fits[0].shape), ROUNDS)
    cost = np.array([fit.misfit_px for fit in fits])
    weight = np.exp(-(cost - cost.min()))
    weight = weight / weight.sum()
    heights = np.array([fit.height_mm for fit in fits])
    best = fits[int(np.argmin(cost))]
    mean = float(weight @ heights)
    rise = axis.radius_at(best.height_mm) * float(np.hypot(best.slope, USUAL_TILT))
    return replace(
        best,
        height_mm=best.height_mm + rise,
        rise_mm=rise,
        spread_mm=float(np.hypot(np.sqrt(weight @ (heights - mean) ** 2), rise)),
    )


def search_shapes(end: End, start_mm: float, tried: tuple[Shape, ...]) -> list[Top]:
    """Fit every shape roughly, the likeliest first.

    Raises
    ------
    ValueError
        When no edge point lies over the end.
    """
    whole = fit_shapes(end, start_mm, ((0, 0.0),), ROUNDS)
    if not whole:
        raise ValueError("no edge of the top end was found")
    rough = whole + fit_shapes(end, whole[0].height_mm, tried, ROUGH_ROUNDS)
    return sorted(rough, key=lambda fit: fit.misfit_px)


def fit_shapes(
    end: End, start_mm: float, shapes: tuple[Shape, ...], rounds: int
) -> list[Top]:
    """Fit each shape that the edge points can be held against, the likeliest first."""
    fits = (_fit(end, start_mm, shape, rounds) for shape in shapes)
    found = [fit for fit in fits if fit is not None]
    return sorted(found, key=lambda fit: fit.misfit_px)


def moved_height(top: Top, moved: End) -> float:
    """Height of the end under another stance, from the same edge points and weights.

    A fresh robust fit could change its mind about single points, and a difference of
    two fits would show that and not the influence.
    """
    moved = replace(moved, edges=top.held)
    rim = _rim(moved, top.shape, top.height_mm)
    height = middle = top.height_mm - top.rise_mm
    for _ in range(ROUGH_ROUNDS):
        match = _hold(moved, rim, (height, top.slope))
        if match is None:
            break
        height += _level(match, top.weights[match.places]) - top.level_mm
    return top.height_mm + height - middle


def _level(match: "_Match", weights: Floats) -> float:
    """Weighted mean of what is left over, in mm."""
    return float(weights @ match.residual_px / weights.sum() / match.px_per_mm)


def _rim(end: End, shape: Shape, height_mm: float) -> Floats:
    radius = end.axis.radius_at(height_mm - end.wire_mm / 2) + end.stance.rim_shift_mm
    return rim_points(shape, radius, end.wire_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Match:
    """Edge points held against a predicted rim, all (n,); ``places`` tells which."""

    places: NDArray[np.intp]
    residual_px: Floats
    across_mm: Floats
    drop_mm: Floats
    px_per_mm: float


def _fit(end: End, start_mm: float, shape: Shape, rounds: int) -> Top | None:
    height, slope = start_mm, 0.0
    rim = _rim(end, shape, height)
    match = _hold(end, rim, (height, slope))
    move, weight = np.zeros(3), np.zeros(0)
    for _ in range(rounds):
        if match is None:
            return None
        move, weight = _robust_level(match)
        height = height + float(move[0])
        slope = float(np.clip(slope + move[1], -STEEPEST, STEEPEST))
        held, match = match, _hold(end, rim, (height, slope))
        if abs(move[0]) < SETTLED_MM or match is None:
            match = held
            break
    if match is None:
        return None
    if len(weight) != len(match.residual_px):
        move, weight = _robust_level(match)
    return _top(end, match, move, weight, (height, slope), shape)


def _hold(end: End, rim: Floats, plane: tuple[float, float]) -> _Match | None:
    """Predict the outline of a rim at a height and slope; None where none is seen."""
    stance, axis = end.stance, end.axis
    height, slope = plane
    view = view_top(stance, axis, height, end.edges)
    if len(view.along) == 0:
        return None
    tilted = rim + slope * rim[..., :1] * np.array([0.0, 0.0, 1.0])
    centre = centre_of(stance, axis, height)
    predicted, maker = upper_edge(stance, centre, tilted, view)
    seen = np.isfinite(predicted)
    if not seen.any():
        return None
    return _Match(
        places=view.places[seen],
        residual_px=(view.up - predicted)[seen],
        across_mm=view.along[seen] / view.px_per_mm,
        drop_mm=rim.reshape(-1, 3)[maker[seen], 2],
        px_per_mm=view.px_per_mm,
    )


def _top(
    end: End,
    match: _Match,
    move: Floats,
    weight: Floats,
    plane: tuple[float, float],
    shape: Shape,
) -> Top:
    """Judge a fit: noise from the points that count, misfit from all."""
    height, slope = plane
    left = move[0] + move[1] * match.across_mm + move[2] * match.drop_mm
    residual = match.residual_px - left * match.px_per_mm
    count = max(float(weight.sum()), 1.0)
    spread = np.sqrt((weight * residual**2).sum() / count) / match.px_per_mm
    off = np.minimum(np.abs(residual) / LEVEL_PX, MOST_OFF)
    cost = float(np.mean(off * np.where(match.drop_mm < 0, 0.5, 1.0)))
    return Top(
        height_mm=height,
        slope=slope,
        u_noise_mm=float(spread / np.sqrt(INDEPENDENT)),
        spread_mm=0.0,
        shape=shape,
        misfit_px=cost * EFFECTIVE_POINTS + (slope / MOST_SLOPE) ** 2 / 2,
        rise_mm=0.0,
        held=end.edges.chosen(match.places),
        weights=np.maximum(weight, 1e-6),
        level_mm=_level(match, np.maximum(weight, 1e-6)),
    )


def _robust_level(match: _Match) -> tuple[Floats, NDArray[np.float64]]:
    """Level, slope and share of drop that are left, bad points weighted down.

    Tukey's biweight; slope and drop are held near what is usual.
    """
    across, drop, px_per_mm = match.across_mm, match.drop_mm, match.px_per_mm
    up_mm = match.residual_px / px_per_mm
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
        pull = design.T @ (weight / sigma**2 * up_mm)
        last, move = move, np.linalg.solve(normal, pull)
        if np.abs(move - last).max() < SETTLED_MM:
            break
    return move, weight
