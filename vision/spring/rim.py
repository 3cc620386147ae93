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
from vision.spring.axis import Axis
from vision.spring.ground_end import WHOLE, Shape, between, rim_points
from vision.spring.match import (
    EFFECTIVE_POINTS,
    LEVEL_PX,
    MOST_SLOPE,
    SETTLED_MM,
    Match,
    robust_level,
)
from vision.spring.rays import Stance
from vision.spring.skyline import INNER, centres_of, upper_edges, view_top

Mask = NDArray[np.bool_]

INDEPENDENT = 4.0  # parts of the top edge whose errors have nothing in common
ROUNDS, ROUGH_ROUNDS = 4, 2
HOPEFUL = 10  # shapes that are fitted to the end after a first round
MOST_OFF = 4.0  # sigmas by which one point may count against a shape
BESIDE_WIRES = 0.067  # of the radius, that is left out where a round wire turns down
USUAL_TILT = 0.0008  # the end's highest point lies above its middle by this x radius
STEEPEST = 0.016  # an end this far out of parallel is worn or bent


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Top:
    """Height of the end's plane and how it was reached.

    ``slope`` is the plane's fall or rise per mm across; ``spread_mm`` how much shapes
    of the end that explain the outline as well would change the height; ``rise_mm`` how
    far its highest point lies over its middle. ``places`` (n,) tells which edge points
    were held against it, ``weights`` (n,) what they counted, ``level_mm`` what they
    left.
    """

    height_mm: float
    slope: float
    u_noise_mm: float
    spread_mm: float
    shape: Shape
    misfit_px: float
    rise_mm: float
    places: NDArray[np.intp]
    weights: Floats
    level_mm: float

    @property
    def is_open(self) -> bool:
        """Tell whether the wire rises to its tip: no closed and ground coil."""
        return self.shape[2] > 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """The upper end of a spring: how it is looked at, and its edge points.

    What is taken for open is looked at farther out: its tip may lie beside a flank.
    """

    stance: Stance
    axis: Axis
    edges: EdgePoints
    wire_mm: float
    is_open: bool = False

    @property
    def inner(self) -> float:
        """Share of the radius within which its edges are those of its rims."""
        if not self.is_open:
            return INNER
        beside = BESIDE_WIRES * self.wire_mm / float(self.axis.knot_radii_mm[-1])
        return 1.0 - beside


def solve_top(end: End, start_mm: float, tried: tuple[Shape, ...]) -> Top:
    """Solve the end's height for each shape tried and weigh them by their misfit.

    Raises
    ------
    ValueError
        When no edge point lies over the end.
    """
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
    rise = end.axis.radius_at(best.height_mm) * float(np.hypot(best.slope, USUAL_TILT))
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
    whole = fit_shapes(end, start_mm, (WHOLE,), ROUNDS)
    if not whole:
        raise ValueError("no edge of the top end was found")
    rough = whole + fit_shapes(end, whole[0].height_mm, tried, ROUGH_ROUNDS)
    return sorted(rough, key=lambda fit: fit.misfit_px)


def fit_shapes(
    end: End, start_mm: float, shapes: tuple[Shape, ...], rounds: int
) -> list[Top]:
    """Fit each shape that the edge points can be held against, the likeliest first."""
    if not shapes:
        return []
    rims = _rims(end, shapes, start_mm)
    planes = np.tile([start_mm, 0.0], (len(shapes), 1))
    match = _hold(end, rims, planes)
    seen = np.flatnonzero(match.count)
    if len(seen) == 0:
        return []
    fit = _fit(end, rims[seen], planes[seen], match.chosen(seen), rounds)
    tops = _tops(fit, [shapes[place] for place in seen])
    return sorted(tops, key=lambda top: top.misfit_px)


def moved_height(top: Top, moved: End) -> float:
    """Height of the end under another stance, from the same edge points and weights.

    A fresh robust fit could change its mind about single points, and a difference of
    two fits would show that and not the influence.
    """
    moved = replace(moved, edges=moved.edges.chosen(top.places))
    rims = _rims(moved, (top.shape,), top.height_mm)
    height = middle = top.height_mm - top.rise_mm
    for _ in range(ROUGH_ROUNDS):
        match = _hold(moved, rims, np.array([[height, top.slope]]))
        if not match.count.all():
            break
        height += float(match.level_mm(top.weights[match.places])[0]) - top.level_mm
    return top.height_mm + height - middle


def _rims(end: End, shapes: tuple[Shape, ...], height_mm: float) -> Floats:
    radius = end.axis.radius_at(height_mm - end.wire_mm / 2) + end.stance.rim_shift_mm
    return rim_points(shapes, radius, end.wire_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """Planes (n, 2) fitted, height and slope; the last move (n, 3), weights (n, m)."""

    planes: Floats
    match: Match
    move: Floats
    weights: Floats


def _fit(end: End, rims: Floats, planes: Floats, match: Match, rounds: int) -> _Fit:
    """Move all planes to the edge points, each until it is settled."""
    going = np.ones(len(rims), dtype=bool)
    move, weights = np.zeros((len(rims), 3)), np.zeros(match.there.shape)
    counted = match.count
    for _ in range(rounds):
        every = going[:, None]
        now, now_weights = robust_level(match)
        move, weights = (
            np.where(every, now, move),
            np.where(every, now_weights, weights),
        )
        counted = np.where(going, match.count, counted)
        planes = np.where(every, planes + now[:, :2], planes)
        planes[:, 1] = np.clip(planes[:, 1], -STEEPEST, STEEPEST)
        trial = _hold(end, rims, planes)
        going = going & (np.abs(move[:, 0]) >= SETTLED_MM) & (trial.count > 0)
        if not going.any():
            break
        match = match.replaced(going, trial)
    other = match.count != counted
    if other.any():
        now, now_weights = robust_level(match)
        move = np.where(other[:, None], now, move)
        weights = np.where(other[:, None], now_weights, weights)
    return _Fit(planes=planes, match=match, move=move, weights=weights)


def _hold(end: End, rims: Floats, planes: Floats) -> Match:
    """Predict the outlines of rims (n, 2, k, 3) at heights and slopes (n, 2)."""
    stance, axis = end.stance, end.axis
    heights, slopes = planes.T
    view = view_top(stance, axis, heights, end.edges, end.inner)
    tilted = rims.copy()
    tilted[..., 2] += slopes[:, None, None] * rims[..., 0]
    centres = centres_of(stance, axis, heights)
    predicted, maker = upper_edges(stance, centres, tilted, view)
    there = view.there & np.isfinite(predicted)
    scale = view.px_per_mm[:, None]
    drop = np.take_along_axis(rims[..., 2].reshape(len(rims), -1), maker, axis=1)
    return Match(
        places=view.places,
        there=there,
        residual_px=view.up - np.where(there, predicted, view.up),
        across_mm=view.along / scale,
        drop_mm=drop,
        px_per_mm=scale,
    )


def _tops(fit: _Fit, shapes: list[Shape]) -> list[Top]:
    """Judge fits: noise from the points that count, misfit from all."""
    match, (heights, slopes) = fit.match, fit.planes.T
    levels, tilts, drops = fit.move.T[:, :, None]
    left = levels + tilts * match.across_mm + drops * match.drop_mm
    rest = match.residual_px - left * match.px_per_mm
    weights = np.where(match.there, fit.weights, 0.0)
    squares = (weights * rest**2).sum(axis=1) / np.maximum(weights.sum(axis=1), 1.0)
    noise = np.sqrt(squares / INDEPENDENT) / match.px_per_mm[:, 0]
    off = np.minimum(np.abs(rest) / LEVEL_PX, MOST_OFF)
    off = np.where(match.there, off * np.where(match.drop_mm < 0, 0.5, 1.0), 0.0)
    misfit = off.sum(axis=1) / match.count * EFFECTIVE_POINTS
    misfit += (slopes / MOST_SLOPE) ** 2 / 2
    weights = np.maximum(fit.weights, 1e-6)
    found = zip(heights, slopes, noise, misfit, match.level_mm(weights), strict=True)
    return [
        Top(
            height_mm=float(height),
            slope=float(slope),
            u_noise_mm=float(u_noise),
            spread_mm=0.0,
            shape=shapes[row],
            misfit_px=float(misfit_px),
            rise_mm=0.0,
            places=match.places[row, match.there[row]],
            weights=weights[row, match.there[row]],
            level_mm=float(level),
        )
        for row, (height, slope, u_noise, misfit_px, level) in enumerate(found)
    ]
