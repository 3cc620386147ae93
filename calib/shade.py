"""Located edges in, the same edges free of the shading beside them out.

A step with even levels is not what round wire shows: towards its very edge it mirrors
more and more of what stands behind it, or darkens into a rim. Fitted to such an edge,
the step settles too far in and too wide, or too far out and too narrow. Here the inside
slopes along the distance d from the edge,

    I(d) = outside Phi(z) + inside (1 - Phi(z)) + slope blur (z (1 - Phi(z)) - phi(z)),

with z = (d - position) / blur, and the blur is not a single edge's but the lens's: the
one that leaves least unexplained in all edges together. A free blur beside a free slope
would leave the position open.
"""

from dataclasses import replace

import numpy as np

from calib.edge import pixels_beside, spread_px2
from calib.records import EdgePoints, Floats, Grey
from calib.step import ROOT_TWO_PI, Window, blurred_step

BLURS_IN_WINDOW, LEAST_HALF_PX = 4.0, 3.0
ROWS = 3  # neighbouring pixel rows fitted together
PASSES, STEPS = 2, 5  # the window is laid about the edge anew; steps of each pass
STEPS_ON = 2  # from one blur to the next
MOST_STEP_PX = 0.5
# Blurs tried, as shares of the usual blur of even steps: shading widens most of them.
SHARES = np.geomspace(0.4, 1.3, 10)
MOST_ASKED = 240  # edges that tell the blur
LEAST_VARIANCE = 1e-8  # of light, below any noise of 8 bits
USUAL_SLOPE = 0.05  # of shading, contrasts per px: what noise leaves open is held to it


def common_blur(grey: Grey, edges: EdgePoints) -> float:
    """Tell the blur (sigma in px) that all edges share, whatever their shading.

    Raises
    ------
    ValueError
        When there are no edges.
    """
    count = len(edges.u_px)
    if count == 0:
        raise ValueError("no edges that could tell their blur")
    asked = edges.chosen(np.arange(0, count, max(1, count // MOST_ASKED)))
    usual = float(np.median(asked.blur_px))
    window = pixels_beside(grey, asked, _half_px(usual), ROWS)
    stiff = _stiffness(asked)
    left = _unexplained(window, usual * SHARES, stiff)
    best = int(np.clip(np.argmin(left), 1, len(SHARES) - 2))
    before, least, after = left[best - 1 : best + 2]
    bend = max(before - 2 * least + after, 1e-12)
    part = float(np.clip(0.5 * (before - after) / bend, -1.0, 1.0))
    return usual * float(SHARES[best] * (SHARES[1] / SHARES[0]) ** part)


def unshaded(
    grey: Grey, edges: EdgePoints, blur_px: float
) -> tuple[EdgePoints, Floats]:
    """Locate edges anew, their inside sloping; also the rms (n,) of what is left over.

    ``inside`` and ``outside`` are the levels at the edge itself.
    """
    count = len(edges.u_px)
    if count == 0:
        return edges, np.zeros(0)
    found, rms, stiff = edges, np.zeros(count), _stiffness(edges)
    blurs_px = np.full(count, blur_px)
    for _ in range(PASSES):
        window = pixels_beside(grey, found, _half_px(blur_px), ROWS)
        levels = _settled_levels(window, blur_px, stiff)
        rms = np.sqrt(_variance(window, levels, blur_px))
        variance_px = _move(window, levels, blur_px, stiff)[1]
        found = replace(
            edges,
            points_px=found.points_px + levels[:, 3:] * edges.normals,
            blur_px=blurs_px,
            inside=levels[:, 0],
            outside=levels[:, 2],
            u_px=rms * np.sqrt(variance_px),
            spread_px2=spread_px2(blurs_px, ROWS),
        )
    return found, rms


def _half_px(blur_px: float) -> float:
    return max(BLURS_IN_WINDOW * blur_px, LEAST_HALF_PX)


def _stiffness(edges: EdgePoints) -> float:
    """How firmly slopes are held: noise per contrast, over the usual slope, squared.

    A step's u is its noise per contrast times the root of its blur, within a factor.
    """
    noise = float(np.median(edges.u_px / np.sqrt(edges.blur_px)))
    return (noise / USUAL_SLOPE) ** 2


def _unexplained(window: Window, blurs_px: Floats, stiff: float) -> Floats:
    """Give the mean logarithm of the variance that each blur leaves in the profiles.

    What fits one blur is close to what fits the next.
    """
    levels, left = _settled_levels(window, float(blurs_px[0]), stiff), []
    for blur_px in map(float, blurs_px):
        levels = _moved(window, levels, blur_px, stiff, STEPS_ON)
        variance = _variance(window, levels, blur_px)
        left.append(float(np.mean(np.log(variance + LEAST_VARIANCE))))
    return np.array(left)


def _settled_levels(window: Window, blur_px: float, stiff: float) -> Floats:
    """Fit inside, slope, outside and position (n, 4) with a blur that is given."""
    return _moved(window, _first_levels(window, blur_px), blur_px, stiff, STEPS)


def _moved(
    window: Window, levels: Floats, blur_px: float, stiff: float, steps: int
) -> Floats:
    for _ in range(steps):
        levels = levels + _move(window, levels, blur_px, stiff)[0]
    return levels


def _shapes(window: Window, position: Floats, blur_px: float) -> Floats:
    """Lay out what inside, slope and outside of 1 add to the pixels (n, 3, m)."""
    z = (window.distance_px - position[:, None]) / blur_px
    outside, bell = blurred_step(z)
    inside = 1.0 - outside
    slope = blur_px * (z * inside - bell / ROOT_TWO_PI)
    return window.used[:, None] * np.stack([inside, slope, outside], axis=1)


def _first_levels(window: Window, blur_px: float) -> Floats:
    """Solve inside, slope and outside (n, 4) with the edges where they were located."""
    shapes = _shapes(window, np.zeros(len(window.value)), blur_px)
    normal = shapes @ shapes.swapaxes(1, 2) + 1e-9 * np.eye(3)
    levels = np.linalg.solve(normal, shapes @ window.value[:, :, None])[:, :, 0]
    return np.column_stack([levels, np.zeros(len(levels))])


def _move(
    window: Window, levels: Floats, blur_px: float, stiff: float
) -> tuple[Floats, Floats]:
    """Give a step (n, 4) by Gauss and Newton, and the position's variance per pixel's.

    The model falls along the position as it rises along the distance.
    """
    shapes = _shapes(window, levels[:, 3], blur_px)
    z = (window.distance_px - levels[:, 3:]) / blur_px
    bell = blurred_step(z)[1] / ROOT_TWO_PI
    rise = (levels[:, 2:3] - levels[:, :1]) * bell * window.used / blur_px
    rise += levels[:, 1:2] * shapes[:, 0]
    planes = np.concatenate([shapes, -rise[:, None]], axis=1)
    rest = _rest(window, levels, shapes)
    normal = planes @ planes.swapaxes(1, 2) + 1e-9 * np.eye(4)
    normal[:, 1, 1] += stiff
    pull = (planes @ rest[:, :, None])[:, :, 0]
    pull[:, 1] -= stiff * levels[:, 1]
    inverse = np.linalg.inv(normal)
    move = (inverse @ pull[:, :, None])[:, :, 0]
    move[:, 3] = np.clip(move[:, 3], -MOST_STEP_PX, MOST_STEP_PX)
    return move, np.maximum(inverse[:, 3, 3], 0.0)


def _rest(window: Window, levels: Floats, shapes: Floats) -> Floats:
    """Give what levels and shapes leave over of the pixels (n, m)."""
    return window.used * window.value - (levels[:, None, :3] @ shapes)[:, 0]


def _variance(window: Window, levels: Floats, blur_px: float) -> Floats:
    """Give the variance (n,) of what is left over, per degree of freedom."""
    shapes = _shapes(window, levels[:, 3], blur_px)
    rest = _rest(window, levels, shapes)
    freedom = np.maximum(window.used.sum(axis=1) - 4.0, 1.0)
    return np.asarray(np.sum(rest**2, axis=1) / freedom)
