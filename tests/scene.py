"""An invented row of springs beside a try square, seen by an invented camera.

Nothing here was photographed or measured: the geometry is made up so that records,
overlays and archives can be built without a picture of real springs.
"""

from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from io import BytesIO
from math import pi, radians, tan

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from calib.records import Camera, Exif, Photo

Floats = NDArray[np.float64]

PX_PER_MM = 5.0
DISTANCE_MM = 700.0  # camera to the plane of the springs' axes
EYE_HEIGHT_MM = 30.0
PITCH_MM = 31.0
FIRST_MM = 24.0
LEFT_MM = -60.0  # of the picture, on the axis plane
HEIGHT_PX = 800
FACE_OFFSET_MM = 14.0
BLADE_MM, STOCK_MM, BREADTH_MM = 75.0, 50.0, 15.0

PHOTO_NAME = "invented-row.png"

BACKDROP, PLATE, STEEL = (222, 220, 214), (148, 144, 138), (96, 104, 116)
WIRES = ((74, 72, 70), (78, 74, 70), (72, 72, 74), (104, 84, 62))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One invented spring as it would be with no error of measurement."""

    position: int
    height_mm: float
    lean_deg: float
    outside_mm: float = 27.6
    wire_mm: float = 3.8
    coils: float = 6.5

    @property
    def foot_mm(self) -> float:
        """Where its axis meets the plate."""
        return FIRST_MM + PITCH_MM * (self.position - 1)

    def axis_mm(self, z_mm: float) -> float:
        """Where its axis is at a height, in the plane of the picture."""
        return self.foot_mm + z_mm * tan(radians(self.lean_deg))


HEIGHTS_MM = (48.12, 46.68, 47.96, 48.05, 47.31, 48.20, 47.88, 48.01)
LEANS_DEG = (0.42, -0.61, 1.82, 0.15, -0.30, 0.95, -1.05, 0.22)


def shape(position: int) -> Shape:
    """Make up the spring at a position; beyond eight they repeat."""
    index = (position - 1) % len(HEIGHTS_MM)
    return Shape(
        position=position, height_mm=HEIGHTS_MM[index], lean_deg=LEANS_DEG[index]
    )


def size_px(count: int) -> tuple[int, int]:
    """Make the picture wide enough for a row of ``count``."""
    right_mm = FIRST_MM + PITCH_MM * max(count, 1)
    return round((right_mm - LEFT_MM) * PX_PER_MM), HEIGHT_PX


def make_camera(count: int = 8) -> Camera:
    """Look level along +y, the picture's left edge at LEFT_MM on the axis plane."""
    width_px, height_px = size_px(count)
    centre = np.array([width_px / 2 - 0.5, height_px / 2 - 0.5])
    position = np.array(
        [LEFT_MM + width_px / 2 / PX_PER_MM, -DISTANCE_MM, EYE_HEIGHT_MM]
    )
    rotation = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    for array in (centre, position, rotation):
        array.setflags(write=False)
    return Camera(
        size_px=(width_px, height_px),
        focal_px=PX_PER_MM * DISTANCE_MM,
        centre_px=centre,
        k1=0.0,
        k2=0.0,
        rotation=rotation,
        position_mm=position,
    )


def seen(camera: Camera, points_mm: Floats) -> Floats:
    """Project world points (n, 3) to px (n, 2); read-only."""
    at = (points_mm - camera.position_mm) @ camera.rotation.T
    points = camera.centre_px + camera.focal_px * at[:, :2] / at[:, 2:]
    points.setflags(write=False)
    return points


def on_plane(camera: Camera, points_mm: Floats, y_mm: float = 0.0) -> Floats:
    """Project points (n, 2) given as (x, z) on an upright plane."""
    x, z = np.asarray(points_mm, dtype=float).T
    return seen(camera, np.stack([x, np.full_like(x, y_mm), z], axis=1))


def square_corners_mm() -> Floats:
    """Outline of the try square: blade at x = 0, stock running to the left."""
    return np.array(
        [
            [0.0, 0.0],
            [0.0, BLADE_MM],
            [-BREADTH_MM, BLADE_MM],
            [-BREADTH_MM, BREADTH_MM],
            [-STOCK_MM, BREADTH_MM],
            [-STOCK_MM, 0.0],
        ]
    )


def make_exif() -> Exif:
    """Give the invented camera a name."""
    return Exif(make="Invented", model="Box 5", focal_length_mm=35.0)


@cache
def make_photo(count: int = 8) -> Photo:
    """Paint the row as a small picture; its digest is that of ``make_picture``."""
    rgb = np.asarray(_painted(count), dtype=np.uint8)
    rgb.setflags(write=False)
    digest = sha256(make_picture(count)).hexdigest()
    return Photo(name=PHOTO_NAME, sha256=digest, rgb=rgb, exif=make_exif())


@cache
def make_picture(count: int = 8) -> bytes:
    """Give the same picture as a PNG file's bytes."""
    file = BytesIO()
    _painted(count).save(file, "PNG", compress_level=1)
    return file.getvalue()


def _painted(count: int) -> Image.Image:
    """Backdrop, plate, try square, springs."""
    camera = make_camera(count)
    image = Image.new("RGB", camera.size_px, BACKDROP)
    draw = ImageDraw.Draw(image)
    plate_px = float(on_plane(camera, np.zeros((1, 2)))[0, 1])
    draw.rectangle((0, plate_px, *camera.size_px), fill=PLATE)
    target = on_plane(camera, square_corners_mm(), -FACE_OFFSET_MM)
    draw.polygon([tuple(point) for point in target], fill=STEEL)
    for position in range(1, count + 1):
        _paint_spring(draw, camera, shape(position))
    return image


def _paint_spring(draw: ImageDraw.ImageDraw, camera: Camera, spring: Shape) -> None:
    """Draw the wire's centre line with a round brush, far side first."""
    turn = np.linspace(0.0, 2 * pi * spring.coils, 500)
    height = spring.height_mm - spring.wire_mm
    z = spring.wire_mm / 2 + height * turn / turn[-1]
    radius = (spring.outside_mm - spring.wire_mm) / 2
    x = spring.foot_mm + z * tan(radians(spring.lean_deg)) + radius * np.cos(turn)
    y = -radius * np.sin(turn)
    points = seen(camera, np.stack([x, y, z], axis=1))
    wire = WIRES[spring.position % len(WIRES)]
    half_px = spring.wire_mm * PX_PER_MM / 2
    for near in (False, True):
        colour = wire if near else tuple(part * 3 // 4 for part in wire)
        for centre in points[(y < 0) == near]:
            draw.circle(tuple(centre), half_px, fill=colour)
