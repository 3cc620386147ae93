"""Rough points on a spring's outline in, sub-pixel edges of wire and backdrop out."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from calib.edge import EdgeSettings, fit_edges
from calib.records import EdgePoints, Floats, Grey
from vision.outline.close import Close

SEEK_PX = 3.0  # how far around the outermost departure the edge is sought
DEPARTURE = 0.12  # share of the contrast by which the backdrop must be left
DEPARTURE_SIGMAS = 5.0
INSIDE_PX = 2.0  # from here on inward the blur of the edge is over
NEARLY_ALL = 0.1  # the share of the inside that may come nearer
SETTINGS = EdgeSettings(rows=3, least_contrast=0.01, most_residual=0.35)

Mask = NDArray[np.bool_]


def seek_edges(
    close: Close, points: Floats, normals: Floats, outer_px: float, inner_px: float
) -> tuple[EdgePoints, Mask]:
    """Locate edges within a reach of rough points; also which points (n,) led to one.

    Each point is looked for in that grey in which wire and what is beside it stand
    farthest apart there: a plate below the backdrop has another colour.
    """
    outward = np.arange(outer_px, -inner_px, -0.5)
    if len(close.greys) == 1 or len(points) == 0:
        return _edges(close.greys[0], points, normals, outward)
    apart = [_apart(grey, points, normals, outward) for grey in close.greys]
    best = np.argmax(apart, axis=0)
    kept = np.zeros(len(points), dtype=bool)
    parts, places = [], []
    for number, grey in enumerate(close.greys):
        here = np.flatnonzero(best == number)
        edges, seen = _edges(grey, points[here], normals[here], outward)
        kept[here[seen]] = True
        parts.append(edges)
        places.append(here[seen])
    return EdgePoints.joined(parts).chosen(np.argsort(np.concatenate(places))), kept


def _apart(grey: Grey, points: Floats, normals: Floats, outward: Floats) -> Floats:
    """How many noises (n,) what is inside stays away from what is outside.

    Wire whose highlight crosses the backdrop's brightness comes near it somewhere.
    """
    values = values_along(grey, points, normals, outward)
    level, noise = backdrop_of(values[:, : max(len(outward) // 4, 3)])
    deep = min(INSIDE_PX, -0.5 * float(outward[-1]))  # thin wire has no such inside
    inner = np.abs(values[:, outward < -deep] - level)
    return np.asarray(np.quantile(inner, NEARLY_ALL, axis=1) / max(noise, 1e-4))


def _edges(
    grey: Grey, points: Floats, normals: Floats, outward: Floats
) -> tuple[EdgePoints, Mask]:
    start, seen = _leave_backdrop(grey, points, normals, outward)
    edges, fitted = fit_edges(grey, start[seen], normals[seen], SEEK_PX, SETTINGS)
    kept = np.zeros(len(points), dtype=bool)
    kept[np.flatnonzero(seen)[fitted]] = True
    return edges, kept


def _leave_backdrop(
    grey: Grey, points: Floats, normals: Floats, outward: Floats
) -> tuple[Floats, Mask]:
    """Walk inward along each normal to where the backdrop is first left.

    A bright round wire mirrors the backdrop at its very edge, so its outline is the
    outermost departure from the backdrop, not the steepest rise further in.
    """
    if len(points) == 0:
        return points, np.zeros(0, dtype=bool)
    values = values_along(grey, points, normals, outward)
    level, noise = backdrop_of(values[:, : max(len(outward) // 4, 3)])
    contrast = np.abs(values - level).max(axis=1, keepdims=True)
    limit = np.maximum(DEPARTURE * contrast, DEPARTURE_SIGMAS * noise)
    left = np.abs(values - level) > limit
    lasting = left & np.roll(left, -1, axis=1) & np.roll(left, -2, axis=1)
    lasting[:, -2:] = False
    first = lasting.argmax(axis=1)
    seen = lasting.any(axis=1) & (first > 0)
    return points + outward[first][:, None] * normals, seen


def backdrop_of(beside: Floats) -> tuple[Floats, float]:
    """Give the level (n, 1) of what lies beside edges (n, m), and its usual noise."""
    level = np.median(beside, axis=1, keepdims=True)
    return level, 1.4826 * float(np.median(np.abs(beside - level)))


def values_along(
    grey: Grey, points: Floats, normals: Floats, outward: Floats
) -> Floats:
    """Give values (n, m) at distances (m,) along each normal."""
    where = points[:, None] + outward[None, :, None] * normals[:, None]
    return np.asarray(
        map_coordinates(grey, [where[..., 1], where[..., 0]], order=1, mode="nearest"),
        dtype=np.float64,
    )
