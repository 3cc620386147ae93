"""A spring's part of the photo in, the greys in which its edges stand out best out."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera import pixels_per_mm, project
from calib.photo import linear_rgb
from calib.records import Calibration, Floats, Grey, Photo
from vision.outline.plane import PlaneView
from vision.outline.segment import Candidate

MARGIN_MM = 4.0  # picture kept around a spring
LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # IEC 61966-2-1
DARK_WIRE = 0.6  # of the backdrop's light: then every part of the wire is darker
BLOWN_LEVEL = 0.99  # of linear light, a channel's: compression rattles blown white
STRADDLED, APART_LAB = 0.15, 4.0  # share of the wire on either side of a backdrop's L*
PAINTED = 0.75  # of the backdrop's light, by which colours must differ
COLOURED = 0.05  # linear light by which a backdrop's channels must differ

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Close:
    """A spring's part of the photo in linear light: its corner, its scale.

    ``greys`` are luminance and, before a coloured backdrop or where paint crosses a
    backdrop's lightness, a tint; ``rgb`` is (h, w, 3).
    """

    greys: tuple[Grey, ...]
    rgb: Grey
    corner_px: Floats
    px_per_mm: float
    colour: Colour


def look_close(
    photo: Photo, calibration: Calibration, view: PlaneView, spring: Candidate
) -> Close:
    """Cut a spring out of the photo, in the greys in which it may stand out."""
    x0, y0, x1, y1 = _cut(photo, calibration, spring)
    rgb = linear_rgb(photo, (x0, y0, x1, y1))
    wire, backdrop = _colours(view, spring)
    tint = _tint(backdrop, _brightest(view, spring))
    if tint is None and _is_straddled(view, spring, backdrop):
        tint = _paint(wire, backdrop)
    weights = [LUMINANCE, tint]
    centre = np.array([(spring.left_mm + spring.right_mm) / 2, 0, spring.top_mm / 2])
    return Close(
        greys=tuple(_grey(rgb, each) for each in weights if each is not None),
        rgb=rgb,
        corner_px=np.array([x0, y0], dtype=float),
        px_per_mm=pixels_per_mm(calibration.camera, centre),
        colour=wire,
    )


def blown_share(close: Close, points_px: Floats) -> float:
    """Give the share of the light at points (n, 2) that comes from clipped channels."""
    if len(points_px) == 0:
        return 0.0
    height, width = close.rgb.shape[:2]
    column, row = np.clip(np.rint(points_px).astype(int), 0, [width - 1, height - 1]).T
    light = close.rgb[row, column] * LUMINANCE
    clipped = close.rgb[row, column] >= BLOWN_LEVEL
    return float((light * clipped).sum() / max(float(light.sum()), 1e-6))


def _cut(
    photo: Photo, calibration: Calibration, spring: Candidate
) -> tuple[int, int, int, int]:
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
    return int(x0), int(y0), int(x1), int(y1)


def _grey(rgb: NDArray[np.float32], weight: NDArray[np.float32]) -> Grey:
    return np.ascontiguousarray(rgb @ weight, dtype=np.float32)


def _brightest(view: PlaneView, spring: Candidate) -> float:
    """Luminance of the wire's brightest tenth."""
    lightness = float(np.quantile(view.lab[spring.mask, 0], 0.9))
    return float(((max(lightness, 0.0) + 16.0) / 116.0) ** 3)  # CIE 1976 L*


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


def _is_straddled(view: PlaneView, spring: Candidate, backdrop: Colour) -> bool:
    """Tell whether much of the wire is darker than the backdrop and much brighter."""
    lightness = view.lab[spring.mask, 0]
    wall = np.array(backdrop, dtype=np.float32)[None, None]
    level = float(cv2.cvtColor(wall, cv2.COLOR_LRGB2LAB)[0, 0, 0])
    parts = (lightness < level - APART_LAB, lightness > level + APART_LAB)
    return bool(min(float(np.mean(part)) for part in parts) > STRADDLED)


def _paint(wire: Colour, backdrop: Colour) -> NDArray[np.float32] | None:
    """Channel weights for a grey in which painted wire stands apart from a backdrop.

    None unless their colours differ by nearly as much as the backdrop has light. Gloss
    and shade cross the backdrop's brightness; the difference of the channels is near
    nothing in gloss, as a light is grey, and falls with the shade, never below it.
    """
    paint, wall = np.array(wire), np.array(backdrop)
    tint = (paint - paint.mean()) - (wall - wall.mean())
    if np.ptp(tint) < PAINTED * float(wall @ LUMINANCE):
        return None
    return _as_weights(tint)


def _tint(backdrop: Colour, brightest: float) -> NDArray[np.float32] | None:
    """Channel weights for a grey in which a coloured backdrop stands apart from wire.

    None unless the wire's brightest tenth (``brightest``) comes near the backdrop's and
    the backdrop is coloured: bare wire is grey from its darkest shade to its
    highlights, so the difference of the channels is near nothing all over the wire and
    the same all over the backdrop. Both are linear in light.
    """
    wall = np.array(backdrop)
    tint = wall.mean() - wall
    if np.ptp(wall) < COLOURED or brightest < DARK_WIRE * float(wall @ LUMINANCE):
        return None
    return _as_weights(tint)


def _as_weights(tint: Floats) -> NDArray[np.float32]:
    """Scale a difference of the channels to the range that luminance has."""
    return np.asarray(tint / np.abs(tint).sum() * 2, dtype=np.float32)
