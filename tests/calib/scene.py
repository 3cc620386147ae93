"""Synthetic photographs of targets through a known camera, exact to a part of a px.

Each pixel's ray is met with the target's planes; the distance to a rectangle's side,
over the local millimetres per px, passes through a Gaussian-blurred step in linear
light. So perspective, distortion and blur are exact away from corners.
"""

from dataclasses import dataclass, field, replace
from functools import cache
from hashlib import sha256

import numpy as np
from scipy.spatial.transform import Rotation
from scipy.special import ndtr

from calib.camera import directions
from calib.photo.light import encode_srgb
from calib.records import (
    Camera,
    Exif,
    Floats,
    Photo,
    Reference,
    SquareCard,
    TrySquare,
)

FACING = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
SQUARE = TrySquare(
    blade_mm=90.0, stock_mm=60.0, blade_width_mm=16.0, stock_width_mm=15.0
)
CARD = SquareCard(side_mm=60.0, bottom_margin_mm=8.0)


def reference(shape: TrySquare | SquareCard, face_offset_mm: float = 0.0) -> Reference:
    """Give a reference with usual uncertainties."""
    return Reference(
        shape=shape,
        expanded_uncertainty_mm=0.05,
        face_offset_mm=face_offset_mm,
        face_offset_uncertainty_mm=1.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the camera stands and how it looks; angles in degrees."""

    size_px: tuple[int, int] = (1080, 800)
    focal_px: float = 2350.0
    centre_off_px: tuple[float, float] = (4.0, -3.0)
    k1: float = 0.0
    place_mm: tuple[float, float, float] = (40.0, -640.0, 55.0)
    pitch: float = 1.5
    yaw: float = -1.0
    roll: float = 0.6

    @property
    def camera(self) -> Camera:
        """The true camera."""
        angles = [self.pitch, self.yaw, self.roll]
        turn = Rotation.from_euler("xyz", angles, degrees=True).as_matrix()
        middle = np.array([(side - 1) / 2.0 for side in self.size_px])
        return Camera(
            size_px=self.size_px,
            focal_px=self.focal_px,
            centre_px=middle + np.array(self.centre_off_px),
            k1=self.k1,
            k2=0.0,
            rotation=turn @ FACING,
            position_mm=np.array(self.place_mm),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Levels in linear light 0..1, blur in px, noise in sRGB levels."""

    backdrop: float = 0.65
    plate: float = 0.3
    metal: float = 0.12
    ink: float = 0.02
    paper: float = 0.6
    blur_px: float = 0.9
    noise: float = 1.5
    grain: float = 0.0  # of the backdrop's own texture
    seed: int = 0


Box = tuple[float, float, float, float, float, float]  # x0, z0, x1, z1, y, level


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A target, how it is seen, and what stands beside it."""

    shape: TrySquare | SquareCard | None = SQUARE
    direction: int = 1
    face_y_mm: float = 0.0
    standout_mm: float = 0.0
    view: View = field(default_factory=View)
    look: Look = field(default_factory=Look)
    others: tuple[Box, ...] = ()
    blade_lean: float = 0.0  # x per z, by which the blade is off square


def take_photo(scene: Scene, name: str = "made.jpg", *, exif: bool = True) -> Photo:
    """Render a scene as a photo with the camera's record."""
    grey = render(replace(scene, look=replace(scene.look, noise=0.0, seed=0)))
    coded = 255.0 * encode_srgb(grey)
    rng = np.random.default_rng(scene.look.seed)
    coded += scene.look.noise * rng.standard_normal(grey.shape)
    levels = np.clip(np.rint(coded), 0, 255).astype(np.uint8)
    film_mm = scene.view.focal_px / np.hypot(*scene.view.size_px) * 43.27
    record = Exif(
        make="Lumenor",
        model="L1",
        focal_length_35mm=float(round(film_mm)),
        focal_length_mm=6.8,
    )
    return Photo(
        name=name,
        sha256=sha256(levels.tobytes()).hexdigest(),
        rgb=np.repeat(levels[:, :, None], 3, axis=2),
        exif=record if exif else Exif(),
    )


@cache
def render(scene: Scene) -> Floats:
    """Give the scene in linear light."""
    camera = scene.view.camera
    width, height = camera.size_px
    rays = _rays(camera)
    look = scene.look
    picture = np.full((height, width), look.backdrop)
    if look.grain:
        rng = np.random.default_rng(99)
        spots = rng.standard_normal((height // 8 + 1, width // 8 + 1))
        picture += look.grain * np.kron(spots, np.ones((8, 8)))[:height, :width]
    plate = (-1e4, -1e4, 1e4, 0.0, 110.0, look.plate)
    planes: dict[float, tuple[Floats, Floats, Floats, Floats]] = {}
    for box in (plate, *scene.others, *_target_boxes(scene)):
        if box[4] not in planes:
            planes[box[4]] = _plane(rays, camera, box[4])
        x, z, x_step, z_step = planes[box[4]]
        if scene.blade_lean and box[5] == look.metal and box[3] == _blade_top(scene):
            x = x - scene.blade_lean * z
        _paint(picture, (x, z, x_step, z_step), box, look.blur_px)
    return picture


def _blade_top(scene: Scene) -> float | None:
    return scene.shape.blade_mm if isinstance(scene.shape, TrySquare) else None


def _rays(camera: Camera) -> Floats:
    """Give each pixel's ray (h, w, 3), of any length."""
    width, height = camera.size_px
    x, y = np.meshgrid(np.arange(width, dtype=float), np.arange(height, dtype=float))
    pixels = np.stack([x, y], axis=2)
    if camera.k1 != 0.0:
        return directions(camera, pixels.reshape(-1, 2)).reshape(height, width, 3)
    flat = (pixels - camera.centre_px) / camera.focal_px
    seen = np.concatenate([flat, np.ones((height, width, 1))], axis=2)
    rays: Floats = seen @ camera.rotation
    return rays


def _plane(
    rays: Floats, camera: Camera, y_mm: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Give x and z of each pixel in an upright plane, and how they change per px."""
    reach = (y_mm - camera.position_mm[1]) / rays[:, :, 1]
    x = camera.position_mm[0] + reach * rays[:, :, 0]
    z = camera.position_mm[2] + reach * rays[:, :, 2]
    return x, z, np.hypot(*np.gradient(x)), np.hypot(*np.gradient(z))


def _target_boxes(scene: Scene) -> list[Box]:
    shape, look, y = scene.shape, scene.look, scene.face_y_mm
    if shape is None:
        return []
    if isinstance(shape, SquareCard):
        low, high = shape.bottom_margin_mm, shape.bottom_margin_mm + shape.side_mm
        paper = (-10.0, 0.0, shape.side_mm + 10.0, high + 10.0, y, look.paper)
        return [paper, (0.0, low, shape.side_mm, high, y, look.ink)]
    blade = (0.0, shape.stock_width_mm - 1.0, shape.blade_width_mm, shape.blade_mm)
    stock = (0.0, 0.0, shape.stock_mm, shape.stock_width_mm)
    boxes: list[Box] = []
    for (x0, z0, x1, z1), plane in ((blade, y), (stock, y - scene.standout_mm)):
        left, right = sorted((scene.direction * x0, scene.direction * x1))
        shade = look.metal if plane == y else 1.25 * look.metal
        boxes.append((left, z0, right, z1, plane, shade))
    return boxes


def _paint(
    picture: Floats,
    plane: tuple[Floats, Floats, Floats, Floats],
    box: Box,
    blur_px: float,
) -> None:
    """Lay an upright rectangle over the picture."""
    x, z, x_step, z_step = plane
    x0, z0, x1, z1, _, level = box
    near = (x > x0 - 5.0) & (x < x1 + 5.0) & (z > z0 - 5.0) & (z < z1 + 5.0)
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    if len(rows) == 0:
        return
    spot = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    cover = np.ones_like(picture[spot])
    blur = np.sqrt(blur_px**2 + 1.0 / 12.0)
    for values, step, low, high in ((x, x_step, x0, x1), (z, z_step, z0, z1)):
        size = step[spot] * blur
        cover *= ndtr((values[spot] - low) / size) * ndtr((high - values[spot]) / size)
    picture[spot] += cover * (level - picture[spot])
