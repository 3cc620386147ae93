"""A candidate's rough contour in, its sub-pixel edge points in the photo out."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from calib.camera import project
from calib.records import Calibration, EdgePoints, Floats
from vision.outline.close import Close
from vision.outline.plane import PlaneView
from vision.outline.seek import seek_edges
from vision.outline.segment import Candidate

SPACING_PX = 1.0
SMOOTH_MM = 0.3  # takes the coarse pixels' steps out of the normals
OUTER_MM, INNER_MM = 1.6, 1.0  # how far around the rough contour the edge is sought
NEIGHBOURS, STRAY_PX = 9, 2.5  # points of one smooth outline lie no farther apart
TRACES = 2


def trace(
    calibration: Calibration, view: PlaneView, spring: Candidate, close: Close
) -> EdgePoints:
    """Follow the contour twice to sub-pixel edges, in px of the close look."""
    scale = close.px_per_mm
    rough = _rough_contour(calibration, view, spring) - close.corner_px
    points, normals = _resampled(rough, SMOOTH_MM * scale)
    for _ in range(TRACES - 1):
        edges, there = seek_edges(
            close, points, normals, OUTER_MM * scale, INNER_MM * scale
        )
        if not there.any():
            return edges
        points = points.copy()
        points[there] = edges.points_px
        points, normals = _relaxed(points, there, SMOOTH_MM * scale)
    edges, _ = seek_edges(close, points, normals, OUTER_MM * scale, INNER_MM * scale)
    return _without_strays(edges)


def _without_strays(edges: EdgePoints) -> EdgePoints:
    """Drop points that lie off the run of their neighbours along the contour."""
    usual = median_filter(edges.points_px, size=(NEIGHBOURS, 1), mode="wrap")
    off = np.linalg.norm(edges.points_px - usual, axis=1)
    return edges.chosen(off < STRAY_PX)


def _rough_contour(
    calibration: Calibration, view: PlaneView, spring: Candidate
) -> Floats:
    """Longest outer contour of the mask, in px of the photo, anticlockwise or not."""
    outer, _ = cv2.findContours(
        spring.mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    longest = max(outer, key=len).reshape(-1, 2).astype(float)
    return np.asarray(project(calibration.camera, view.to_mm(longest)))


def _resampled(contour: Floats, smooth_px: float) -> tuple[Floats, Floats]:
    """Even spacing along a closed contour, smoothed, with outward unit normals."""
    closed = np.vstack([contour, contour[:1]])
    step = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    run = np.concatenate([[0.0], np.cumsum(step)])
    where = np.arange(0.0, run[-1], SPACING_PX)
    even = np.column_stack([np.interp(where, run, closed[:, k]) for k in (0, 1)])
    smooth = gaussian_filter1d(even, smooth_px / SPACING_PX, axis=0, mode="wrap")
    return smooth, _outward(smooth)


def _outward(loop: Floats) -> Floats:
    ahead = np.roll(loop, -2, axis=0) - np.roll(loop, 2, axis=0)
    length = np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-9)
    tangent = ahead / length
    x, y = loop[:, 0], loop[:, 1]
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    normals = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    return np.asarray(normals * np.sign(area or 1.0))


def _relaxed(
    points: Floats, kept: NDArray[np.bool_], smooth_px: float
) -> tuple[Floats, Floats]:
    """Fill what was lost from its neighbours and smooth the loop for new normals."""
    index = np.arange(len(points))
    filled = np.column_stack(
        [
            np.interp(index, index[kept], points[kept, k], period=len(points))
            for k in (0, 1)
        ]
    )
    smooth = gaussian_filter1d(filled, smooth_px, axis=0, mode="wrap")
    even, normals = _resampled(smooth, 0.5)
    return even, normals
