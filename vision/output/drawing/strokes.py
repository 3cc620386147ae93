"""Smooth lines on an RGB canvas: plain, dashed, with a halo, with arrowheads.

Points are (n, 2) in canvas px; OpenCV draws them antialiased at 1/16 px.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.output.palette import HALO, INK, Colour

Floats = NDArray[np.float64]
Canvas = NDArray[np.uint8]

SHIFT = 4
SUBPIXELS = 1 << SHIFT
FAR_PX = 30_000.0  # OpenCV's fixed-point coordinates end beyond it
DASHED = (5.0, 3.0)  # in line widths
CHAIN = (9.0, 2.5, 1.5, 2.5)  # a centre line: long, gap, short, gap
ARROW_LENGTH = 6.0  # in line widths
ARROW_BREADTH = 2.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn; ``pattern`` alternates marks and gaps in line widths."""

    width_px: float
    colour: Colour = INK
    pattern: tuple[float, ...] = ()
    halo_px: float = 0.0


def draw_path(canvas: Canvas, points: Floats, stroke: Stroke) -> None:
    """Draw an open line through the points."""
    pattern = [part * stroke.width_px for part in stroke.pattern]
    pieces = split(points, pattern) if pattern else [points]
    if stroke.halo_px > 0:
        _lines(canvas, [points], HALO, stroke.width_px + 2 * stroke.halo_px)
    _lines(canvas, pieces, stroke.colour, stroke.width_px)


def draw_loop(canvas: Canvas, points: Floats, stroke: Stroke) -> None:
    """Draw a closed line through the points."""
    if len(points):
        draw_path(canvas, np.concatenate([points, points[:1]]), stroke)


def draw_dimension(canvas: Canvas, ends: Floats, stroke: Stroke) -> None:
    """Draw a dimension line with an arrow inside at each end."""
    draw_path(canvas, ends, stroke)
    along = _unit(ends[1] - ends[0])
    draw_arrow(canvas, ends[0], -along, stroke)
    draw_arrow(canvas, ends[1], along, stroke)


def draw_outside_dimension(
    canvas: Canvas, ends: Floats, tail_px: float, stroke: Stroke
) -> None:
    """Draw a dimension that is too small for its arrows: they point in from outside."""
    along = _unit(ends[1] - ends[0])
    for tip, toward in ((ends[0], along), (ends[1], -along)):
        draw_path(canvas, np.stack([tip - toward * tail_px, tip]), stroke)
    for tip, toward in ((ends[0], along), (ends[1], -along)):
        draw_arrow(canvas, tip, toward, stroke)


def draw_arrow(canvas: Canvas, tip: Floats, toward: Floats, stroke: Stroke) -> None:
    """Fill an arrowhead whose tip touches a point."""
    length, half = ARROW_LENGTH * stroke.width_px, ARROW_BREADTH * stroke.width_px / 2
    across = np.array([-toward[1], toward[0]])
    heel = tip - toward * length
    fill_shape(
        canvas, np.stack([tip, heel + across * half, heel - across * half]), stroke
    )


def fill_shape(canvas: Canvas, corners: Floats, stroke: Stroke) -> None:
    """Fill a convex shape in the stroke's colour."""
    if np.isfinite(corners).all():
        points = _fixed(corners)
        cv2.fillConvexPoly(canvas, points, stroke.colour, cv2.LINE_AA, SHIFT)


def split(points: Floats, pattern: list[float]) -> list[Floats]:
    """Cut a line into the marks of a pattern of lengths in px."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    if len(points) < 2 or not at[-1] > 0:  # noqa: PLR2004 - a line has two ends
        return []
    count = int(at[-1] / sum(pattern)) + 1
    bounds = np.cumsum(np.tile(pattern, count + 1))
    starts = np.concatenate([[0.0], bounds[1::2]])
    pieces = []
    for start, end in zip(starts, bounds[0::2], strict=False):
        if start >= at[-1]:
            break
        inner = at[(at > start) & (at < end)]
        where = np.concatenate([[start], inner, [min(end, at[-1])]])
        pieces.append(
            np.stack([np.interp(where, at, points[:, k]) for k in (0, 1)], axis=1)
        )
    return pieces


def _lines(
    canvas: Canvas, pieces: list[Floats], colour: Colour, width_px: float
) -> None:
    drawn = [_fixed(piece) for piece in pieces if np.isfinite(piece).all()]
    thickness = max(1, round(width_px))
    if drawn:
        cv2.polylines(canvas, drawn, False, colour, thickness, cv2.LINE_AA, SHIFT)  # noqa: FBT003


def _fixed(points: Floats) -> NDArray[np.int32]:
    near = np.clip(points, -FAR_PX, FAR_PX)
    fixed: NDArray[np.int32] = np.round(near * SUBPIXELS).astype(np.int32)
    return fixed


def _unit(vector: Floats) -> Floats:
    length = float(np.hypot(*vector))
    return vector / length if length > 0 else np.array([1.0, 0.0])
