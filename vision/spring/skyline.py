"""A spring's end in the picture: its edge points, and the outline to expect."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.records import EdgePoints, Floats
from vision.records.measured import Outline
from vision.spring.axis import Axis
from vision.spring.rays import Stance

INNER = 0.8  # share of the radius within which the top is read
MOST_POINTS = 60
LEAST_WIDTH_PX = 1e-9

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """A top's edge points in picture axes along and up, at n heights that it may have.

    ``places`` (n, m) tells which of the edge points they are, as far as ``there``
    (n, m) says so; ``along``, ``up`` (n, m) and ``px_per_mm`` (n,) are seen from the
    end's middle ``origin_px`` (n, 2) by ``axes`` (n, 2, 2), rows along and up.
    """

    places: NDArray[np.intp]
    there: Mask
    along: Floats
    up: Floats
    origin_px: Floats
    axes: Floats
    px_per_mm: Floats


def view_top(
    stance: Stance,
    axis: Axis,
    heights_mm: Floats,
    edges: EdgePoints,
    inner: float = INNER,
) -> View:
    """Turn edge points into the picture axes at the top, thinned and without ends.

    Those count that lie within ``inner`` of the radius.
    """
    probe = np.array([[0.0, 0, 0], [1, 0, 0], [0, 0, 1]])
    points = centres_of(stance, axis, heights_mm)[:, None] + probe
    origin, right, above = (
        project(stance.camera, points).reshape(-1, 3, 2).swapaxes(0, 1)
    )
    scale = np.linalg.norm(right - origin, axis=1)
    along = (right - origin) / scale[:, None]
    up = np.stack([along[:, 1], -along[:, 0]], axis=1)
    up = up * np.sign(np.sum(up * (above - origin), axis=1, keepdims=True))
    axes = np.stack([along, up], axis=1)
    moved = edges.points_px + stance.edge_shift_px * edges.normals
    local = (moved - origin[:, None]) @ axes.swapaxes(1, 2)
    reach = inner * axis.radii_at(heights_mm) * scale
    places, there = _thinned(np.abs(local[..., 0]) < reach[:, None])
    return View(
        places=places,
        there=there,
        along=np.take_along_axis(local[..., 0], places, axis=1),
        up=np.take_along_axis(local[..., 1], places, axis=1),
        origin_px=origin,
        axes=axes,
        px_per_mm=scale,
    )


def _thinned(near: Mask) -> tuple[NDArray[np.intp], Mask]:
    """Which of the near points (n, m) are kept, in order, and where such a one is."""
    rank = np.cumsum(near, axis=1) - 1
    step = np.maximum(1, np.count_nonzero(near, axis=1) // MOST_POINTS)[:, None]
    row, place = np.nonzero(near & (rank % step == 0))
    slot = rank[row, place] // step[row, 0]
    shape = len(near), min(near.shape[1], 2 * MOST_POINTS)
    places, there = np.zeros(shape, dtype=np.intp), np.zeros(shape, dtype=bool)
    places[row, slot], there[row, slot] = place, True
    return places, there


def centres_of(stance: Stance, axis: Axis, heights_mm: Floats) -> Floats:
    """Give the middle of the end (n, 3) at heights."""
    x = axis.foot_x_mm + axis.slope * heights_mm
    depth = stance.depth_mm + stance.depth_slope * heights_mm
    return np.stack([x, depth, heights_mm], axis=-1)


def upper_edges(
    stance: Stance, centres: Floats, rims: Floats, view: View
) -> tuple[Floats, NDArray[np.intp]]:
    """Predicted outlines: the highest image of each rim above its edge points.

    ``rims`` (n, 2, k, 3) are closed courses about ``centres`` (n, 3). Returns the level
    (n, m), -inf where no rim is, and which rim point (n, m) made it.
    """
    points = rims + centres[:, None, None]
    image = project(stance.camera, points).reshape(len(rims), -1, 2)
    image = (image - view.origin_px[:, None]) @ view.axes.swapaxes(1, 2)
    start = image.reshape(-1, rims.shape[2], 2)
    end = np.roll(start, -1, axis=1)
    number = np.arange(start[..., 0].size).reshape(start.shape[:2])
    right = np.where(end[..., 0] > start[..., 0], np.roll(number, -1, axis=1), number)
    left = np.roll(number, -1, axis=1) + number - right
    level, maker = _highest(
        image.reshape(-1, 2), (left.ravel(), right.ravel()), view.along
    )
    return level, maker % image.shape[1]


def _highest(
    points: Floats, ends: tuple[NDArray[np.intp], NDArray[np.intp]], along: Floats
) -> tuple[Floats, NDArray[np.intp]]:
    """Highest of the lines between points over each place, and its right end (n, m).

    The points (p, 2) of n rows follow one another; ``ends`` are lines' left and right.
    """
    rows = len(along)
    widest = max(np.abs(each).max(initial=0.0) for each in (points[:, 0], along))
    apart = 1.0 + 2.0 * float(widest)
    x = points[:, 0] + apart * np.repeat(np.arange(rows), len(points) // rows)
    places = (along + apart * np.arange(rows)[:, None]).ravel()
    order = np.argsort(places)
    first = np.searchsorted(places[order], x[ends[0]])
    count = np.searchsorted(places[order], x[ends[1]], side="right") - first
    line = np.repeat(np.arange(len(first)), count)
    under = np.arange(len(line)) - np.repeat(np.cumsum(count) - count - first, count)
    under, left, right = order[under], ends[0][line], ends[1][line]
    share = (places[under] - x[left]) / np.maximum(x[right] - x[left], LEAST_WIDTH_PX)
    height = points[left, 1] + share * (points[right, 1] - points[left, 1])
    level = np.full(places.shape, -np.inf)
    np.maximum.at(level, under, height)
    maker = np.zeros(places.shape, dtype=np.intp)
    highest = height == level[under]
    maker[under[highest]] = right[highest]
    return level.reshape(along.shape), maker.reshape(along.shape)


def rough_height(stance: Stance, outline: Outline) -> float:
    """Height of the top edge if it stood in the axis plane."""
    foot, top = outline.axis_px
    probe = np.array([[0.0, 0, 0], [0, 0, 50.0]])
    low, high = project(stance.camera, probe)
    up = (high - low) / np.linalg.norm(high - low)
    level = float(np.median((outline.top.points_px - foot) @ up))
    return (
        50.0 * level / float(np.linalg.norm(high - low))
        if level > 0
        else float(np.linalg.norm(top - foot))
    )
