"""A spring's end in the picture: its edge points, and the outline to expect."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.records import EdgePoints, Floats
from vision.spring.axis import Axis, Stance

INNER = 0.8  # share of the radius within which the top is read
MOST_POINTS = 120


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """The top's edge points in picture axes along and up at the spring's top."""

    along: Floats
    up: Floats
    origin_px: Floats
    axes: Floats  # rows: along, up
    px_per_mm: float


def view_top(stance: Stance, axis: Axis, height_mm: float, edges: EdgePoints) -> View:
    """Turn edge points into the picture axes at the top, thinned and without ends."""
    centre = centre_of(stance, axis, height_mm)
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


def centre_of(stance: Stance, axis: Axis, height_mm: float) -> Floats:
    """Give the middle of the end (3,) at a height."""
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
