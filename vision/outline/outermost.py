"""Located edges in, those with a fainter rim of the wire beyond moved out to it, out.

A mirroring wire shows its backdrop's own light near its very edge, but seldom quite:
outside its bright reflections a rim is left, a little darker or brighter than what is
behind it. A step fitted where the picture changes most settles inside that rim. The
outline is where the backdrop's own level is met for good, however faint what differs
from it: along an outline neighbours are alike, so their mean tells what one does not.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from calib.records import EdgePoints, Floats, Grey
from vision.outline.close import Close
from vision.outline.seek import backdrop_of, values_along

STEP_PX = 0.25
INNER_PX = 2.0  # inside an edge: its own level
FARTHEST = 3  # the outer third of what is looked at is backdrop
NEIGHBOURS = 5  # along the outline, whose mean is taken
FAINT, SIGMAS = 0.03, 5.0  # share of the contrast, and noises, that are no backdrop
# A stored value's own step in linear light is CODE times its CODE_POWERth power (sRGB,
# IEC 61966-2-1); compression leaves backdrops as even as that, with blocks of a few.
CODE, CODE_POWER, CODES = 2.275 / 255, 1.4 / 2.4, 5.0
HALO, HALO_PX = 0.12, 5.0  # sharpening makes backdrops brighter or darker by so much
REFLECTION = 4.0  # times that, by which a reflection that hides a rim stands out
LASTING = 4  # steps
RIM_BLURS = 3.5  # an edge's whole width, from where it begins to differ
GONE = 0.25  # share of a rim left half its edge's width farther out; shades fade slower
LEAST_MOVE_PX = 1.0  # less is told better by the step itself
ALIKE, MOST_APART_PX = 7, 0.5  # neighbours of which most must say so, within this
U_PX = 0.3  # of such an edge

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Profiles:
    """How far ``away`` (n, m) light is from the backdrop's ``level`` (n,), outward.

    ``contrast`` (n,) is that of the edge itself, with its sign; ``least`` (n, 1) what
    the backdrop may differ by from place to place; distances are (m,).
    """

    distance_px: Floats
    level: Floats
    away: Floats
    contrast: Floats
    least: Floats


def move_out(close: Close, edges: EdgePoints, reach_px: float) -> EdgePoints:
    """Move edges out to the outermost rim within a reach, where one is seen."""
    if len(edges.u_px) < ALIKE or reach_px < 2 * HALO_PX:
        return edges
    blur_px = float(np.median(edges.blur_px))
    profiles = _look_out(close.greys[0], edges, reach_px)
    rims = _rims(profiles, blur_px)
    move = median_filter(rims, ALIKE, mode="nearest")
    apart_px = median_filter(np.abs(rims - move), ALIKE, mode="nearest")
    in_light = np.abs(edges.outside - profiles.level) < np.abs(profiles.contrast)
    moved = (move > LEAST_MOVE_PX) & (apart_px < MOST_APART_PX) & in_light
    points = edges.points_px + np.where(moved, move, 0.0)[:, None] * edges.normals
    return replace(edges, points_px=points, u_px=np.where(moved, U_PX, edges.u_px))


def _look_out(grey: Grey, edges: EdgePoints, reach_px: float) -> _Profiles:
    """Take profiles outward, each the mean of its neighbours along the outline."""
    distance = np.arange(-INNER_PX, reach_px, STEP_PX)
    values = values_along(grey, edges.points_px, edges.normals, distance)
    values = uniform_filter1d(values, NEIGHBOURS, axis=0, mode="nearest")
    level, noise = backdrop_of(values[:, -len(distance) // FARTHEST :])
    away = values - level
    return _Profiles(
        distance_px=distance,
        level=level[:, 0],
        away=away,
        contrast=away[:, 0],
        least=np.maximum(SIGMAS * noise, CODES * CODE * np.abs(level) ** CODE_POWER),
    )


def _rims(profiles: _Profiles, blur_px: float) -> Floats:
    """How far out (n,) the outermost lasting rim ends: half way to the backdrop."""
    away, distance = profiles.away, profiles.distance_px
    contrast = np.abs(profiles.contrast)[:, None]
    limit = np.maximum(FAINT * contrast, profiles.least)
    halo = (away * profiles.contrast[:, None] < 0) & (distance < HALO_PX)
    limit = np.where(halo, np.maximum(limit, HALO * contrast), limit)
    bright = contrast > REFLECTION * profiles.least
    lasting = _lasting(bright & (np.abs(away) > limit))
    every, count = np.arange(len(away)), len(distance)
    last = count - 1 - np.argmax(lasting[:, ::-1], axis=1)
    level = away * np.sign(away[every, last])[:, None]
    behind = last[:, None] - np.arange(count)
    width = max(round(RIM_BLURS * blur_px / STEP_PX), LASTING)
    inside = np.where((behind >= 0) & (behind < width), level, -np.inf)
    peak = np.argmax(inside, axis=1)
    half = level[every, peak] / 2
    below = (np.arange(count) > peak[:, None]) & (level < half[:, None])
    end = np.argmax(below, axis=1)
    clear = np.minimum(end + width // 2 + 1, count - 1)
    sharp = np.abs(level[every, clear]) < GONE * level[every, peak]
    seen = lasting.any(axis=1) & below.any(axis=1) & sharp
    return np.where(seen, distance[end], 0.0)


def _lasting(apart: Mask) -> Mask:
    """Where (n, m) what differs has done so for some steps."""
    lasting = apart.copy()
    for step in range(1, LASTING):
        lasting[:, step:] &= apart[:, :-step]
        lasting[:, :step] = False
    return lasting
