"""A candidate's rough contour in, its sub-pixel edge points in the photo out."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates, median_filter

from calib.camera import pixels_per_mm, project
from calib.edge import EdgeSettings, fit_edges
from calib.photo import linear_rgb
from calib.records import Calibration, EdgePoints, Floats, Grey, Photo
from vision.outline.plane import PlaneView
from vision.outline.segment import Candidate

MARGIN_MM = 4.0  # picture kept around a spring
SPACING_PX = 1.0
SMOOTH_MM = 0.3  # takes the coarse pixels' steps out of the normals
OUTER_MM, INNER_MM = 1.6, 1.0  # how far around the rough contour the edge is sought
SEEK_PX = 3.0  # how far around the outermost departure the edge is sought
DEPARTURE = 0.12  # share of the contrast by which the backdrop must be left
DEPARTURE_SIGMAS = 5.0
NEIGHBOURS, STRAY_PX = 9, 2.5  # points of one smooth outline lie no farther apart
FLANK, END = 0.6, 0.8  # least share of the normal across, and along the axis
FACING = 0.25  # least share of the normal away from the axis


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Close:
    """A spring's part of the photo: ``grey`` linear light, its corner, its scale."""

    grey: Grey
    corner_px: Floats
    px_per_mm: float
    colour: tuple[float, float, float]


def look_close(
    photo: Photo, calibration: Calibration, view: PlaneView, spring: Candidate
) -> Close:
    """Cut a spring out of the photo, grey as it stands out best from its backdrop."""
    corners = np.array(
        [
            [x, 0.0, z]
            for x in (spring.left_mm - MARGIN_MM, spring.right_mm + MARGIN_MM)
            for z in (-MARGIN_MM, spring.top_mm + MARGIN_MM)
        ]
    )
    px = project(calibration.camera, corners)
    width, height = photo.size_px
    x0, y0 = np.clip(np.floor(px.min(axis=0)), 0, [width - 2, height - 2]).astype(int)
    x1, y1 = np.clip(np.ceil(px.max(axis=0)) + 1, [x0 + 2, y0 + 2], [width, height])
    rgb = linear_rgb(photo, (int(x0), int(y0), int(x1), int(y1)))
    wire, backdrop = _colours(view, spring)
    lightness = float(np.quantile(view.lab[spring.mask, 0], 0.9))
    brightest = ((max(lightness, 0.0) + 16.0) / 116.0) ** 3  # CIE 1976 L* to luminance
    weight = _weights(backdrop, brightest)
    grey = np.ascontiguousarray(rgb @ weight, dtype=np.float32)
    centre = np.array([(spring.left_mm + spring.right_mm) / 2, 0, spring.top_mm / 2])
    return Close(
        grey=grey,
        corner_px=np.array([x0, y0], dtype=float),
        px_per_mm=pixels_per_mm(calibration.camera, centre),
        colour=wire,
    )


Colour = tuple[float, float, float]


def _colours(view: PlaneView, spring: Candidate) -> tuple[Colour, Colour]:
    """Median linear colour of the spring and of what surrounds its upper half."""
    near = cv2.dilate(spring.mask.astype(np.uint8), np.ones((9, 25), np.uint8)) > 0
    ring = near & ~(cv2.dilate(spring.mask.astype(np.uint8), np.ones((5, 5))) > 0)
    ring[int(view.row(spring.top_mm / 2)) :] = False
    ring &= view.seen

    def linear(mask: NDArray[np.bool_]) -> Colour:
        lab = np.median(view.lab[mask], axis=0) if mask.any() else np.zeros(3)
        rgb = cv2.cvtColor(lab.astype(np.float32)[None, None], cv2.COLOR_LAB2LRGB)
        red, green, blue = (float(each) for each in rgb[0, 0])
        return red, green, blue

    return linear(spring.mask), linear(ring)


LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # IEC 61966-2-1
DARK_WIRE = 0.6  # of the backdrop's light: then every part of the wire is darker
COLOURED = 0.05  # linear light by which a backdrop's channels must differ


def _weights(backdrop: Colour, brightest: float) -> NDArray[np.float32]:
    """Channel weights for one grey in which wire and backdrop stand apart.

    Luminance, unless the wire's brightest tenth (``brightest``) comes near the
    backdrop's and the backdrop is coloured: bare wire is grey from its darkest shade to
    its highlights, so the difference of the channels is near nothing all over the wire
    and the same all over the backdrop. Both are linear in light.
    """
    wall = np.array(backdrop)
    tint = wall.mean() - wall
    if np.ptp(wall) < COLOURED or brightest < DARK_WIRE * float(wall @ LUMINANCE):
        return LUMINANCE
    return np.asarray(tint / np.abs(tint).sum() * 2, dtype=np.float32)


def trace(
    calibration: Calibration, view: PlaneView, spring: Candidate, close: Close
) -> EdgePoints:
    """Follow the contour twice to sub-pixel edges, in px of the whole photo."""
    rough = _rough_contour(calibration, view, spring) - close.corner_px
    points, normals = _resampled(rough, SMOOTH_MM * close.px_per_mm)
    settings = EdgeSettings(rows=3, least_contrast=0.01, most_residual=0.35)
    edges = _none()
    for _ in range(2):
        start, seen = _leave_backdrop(close, points, normals)
        edges, kept = fit_edges(
            close.grey, start[seen], normals[seen], SEEK_PX, settings
        )
        if not kept.any():
            return edges
        there = np.zeros(len(points), dtype=bool)
        there[np.flatnonzero(seen)[kept]] = True
        points = points.copy()
        points[there] = edges.points_px
        points, normals = _relaxed(points, there, SMOOTH_MM * close.px_per_mm)
    sound = _without_strays(edges)
    return replace(sound, points_px=sound.points_px + close.corner_px)


def _without_strays(edges: EdgePoints) -> EdgePoints:
    """Drop points that lie off the run of their neighbours along the contour."""
    usual = median_filter(edges.points_px, size=(NEIGHBOURS, 1), mode="wrap")
    off = np.linalg.norm(edges.points_px - usual, axis=1)
    return chosen(edges, off < STRAY_PX)


def chosen(edges: EdgePoints, mask: NDArray[np.bool_]) -> EdgePoints:
    """Keep the points of a mask (n,)."""
    return EdgePoints(
        points_px=edges.points_px[mask],
        normals=edges.normals[mask],
        blur_px=edges.blur_px[mask],
        inside=edges.inside[mask],
        outside=edges.outside[mask],
        u_px=edges.u_px[mask],
    )


def _leave_backdrop(
    close: Close, points: Floats, normals: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Walk inward along each normal to where the backdrop is first left.

    A bright round wire mirrors the backdrop at its very edge, so its outline is the
    outermost departure from the backdrop, not the steepest rise further in.
    """
    scale = close.px_per_mm
    outward = np.arange(OUTER_MM * scale, -INNER_MM * scale, -0.5)
    where = points[:, None] + outward[None, :, None] * normals[:, None]
    values = map_coordinates(
        close.grey, [where[..., 1], where[..., 0]], order=1, mode="nearest"
    )
    outer = values[:, : max(len(outward) // 4, 3)]
    level = np.median(outer, axis=1, keepdims=True)
    noise = 1.4826 * float(np.median(np.abs(outer - level)))
    contrast = np.abs(values - level).max(axis=1, keepdims=True)
    limit = np.maximum(DEPARTURE * contrast, DEPARTURE_SIGMAS * noise)
    left = np.abs(values - level) > limit
    lasting = left & np.roll(left, -1, axis=1) & np.roll(left, -2, axis=1)
    lasting[:, -2:] = False
    first = lasting.argmax(axis=1)
    seen = lasting.any(axis=1) & (first > 0)
    start = points + outward[first][:, None] * normals
    return start, seen


def _none() -> EdgePoints:
    empty = np.zeros(0)
    pairs = np.zeros((0, 2))
    return EdgePoints(
        points_px=pairs,
        normals=pairs,
        blur_px=empty,
        inside=empty,
        outside=empty,
        u_px=empty,
    )


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
