"""A spring's end in the picture: its edge points, and the outline to expect."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.records import EdgePoints, Floats
from vision.records.measured import Outline
from vision.spring.axis import Axis, Stance

INNER = 0.8  # share of the radius within which the top is read
MOST_POINTS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """The top's edge points in picture axes along and up at the spring's top.

    ``places`` (m,) tells which of the edge points they are.
    """

    places: NDArray[np.intp]
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
    places = np.flatnonzero(near)
    places = places[:: max(1, len(places) // MOST_POINTS)]
    return View(
        places=places,
        along=local[places, 0],
        up=local[places, 1],
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
    image = (image @ view.axes.T).reshape(*rim.shape[:2], 2)
    level = np.full(len(view.along), -np.inf)
    maker = np.zeros(len(view.along), dtype=np.intp)
    for k, (across, up) in enumerate(image.transpose(0, 2, 1)):
        for run in _rising_runs(across):
            here = np.interp(view.along, across[run], up[run], -np.inf, -np.inf)
            higher = here > level
            place = np.searchsorted(across[run], view.along[higher])
            maker[higher] = k * image.shape[1] + run[place]
            level[higher] = here[higher]
    return level, maker


def _rising_runs(across: Floats) -> list[NDArray[np.intp]]:
    """Cut a closed course into runs that go one way, each taken to the right."""
    places = np.append(np.arange(len(across)), 0)
    rising = np.diff(across[places]) > 0
    cuts = [0, *(np.flatnonzero(rising[1:] != rising[:-1]) + 1), len(rising)]
    return [
        places[start : end + 1] if rising[start] else places[start : end + 1][::-1]
        for start, end in pairwise(cuts)
    ]


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
