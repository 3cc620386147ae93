"""What painted pictures show, for tests: springs, targets, light and the camera."""

from dataclasses import dataclass, field, replace

import numpy as np

from calib.records import Camera, Reference, SquareCard, TrySquare
from tests.vision.spring.helix import Helix
from tests.vision.spring.places import about_x, about_y, about_z

Colour = tuple[float, float, float]  # linear light

WHITE_SWEEP: Colour = (0.80, 0.80, 0.78)
BLUE_CARD: Colour = (0.10, 0.17, 0.42)
GREY_WALL: Colour = (0.17, 0.17, 0.165)
BLACK_CLOTH: Colour = (0.012, 0.012, 0.014)
LIGHT_PLATE: Colour = (0.55, 0.54, 0.52)
DARK_PLATE: Colour = (0.02, 0.02, 0.022)
DARK_STEEL: Colour = (0.09, 0.085, 0.08)
BRIGHT_STEEL: Colour = (0.42, 0.42, 0.43)
BLUE_PAINT: Colour = (0.10, 0.28, 0.75)
USUAL = Helix(
    height_mm=44.0, outside_mm=24.0, top_outside_mm=24.0, wire_mm=3.2, turns=6.25
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A white card with a solid dark square, its lower left corner at x = 0."""

    side_mm: float = 50.0
    bottom_margin_mm: float = 8.0
    face_offset_mm: float = 0.0
    margin_mm: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Square:
    """A try square of one thickness, its outer corner at x = 0, stock to the right."""

    blade_mm: float = 75.0
    stock_mm: float = 50.0
    blade_width_mm: float = 14.0
    stock_width_mm: float = 14.0
    face_offset_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A plain box lying about: x, z of its corners in mm, in the axis plane."""

    x_mm: tuple[float, float]
    z_mm: tuple[float, float]
    colour: Colour = DARK_STEEL


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What stands where, how it is lit, and the camera's doings."""

    springs: tuple[Helix, ...] = ()
    fallen: tuple[float, ...] = ()  # x of the middles of springs that lie on their side
    things: tuple[Thing, ...] = ()
    target: Card | Square | None = field(default_factory=Card)
    backdrop: Colour = WHITE_SWEEP
    plate: Colour = LIGHT_PLATE
    wire: Colour = DARK_STEEL
    uneven: float = 0.15  # how much darker the right side is than the left
    shadow_to_mm: float | None = None  # x where a hard shadow from the left ends
    blur_px: float = 0.9
    noise: float = 0.004
    seed: int = 1


def look_at_row(
    size_px: tuple[int, int] = (1560, 1170),
    px_per_mm: float = 6.0,
    position_mm: tuple[float, float, float] = (20.0, -700.0, 46.0),
    turned_deg: tuple[float, float, float] = (0.5, -0.6, 0.4),
) -> Camera:
    """Stand a camera before the row, turned by pitch, yaw and roll."""
    pitch, yaw, roll = np.radians(turned_deg)
    facing = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    return Camera(
        size_px=size_px,
        focal_px=px_per_mm * -position_mm[1],
        centre_px=(np.array(size_px) - 1) / 2,
        k1=0.0,
        k2=0.0,
        rotation=about_z(roll) @ about_x(pitch) @ about_y(-yaw) @ facing,
        position_mm=np.array(position_mm),
    )


def make_row(places_mm: tuple[float, ...], shape: Helix = USUAL) -> tuple[Helix, ...]:
    """Springs of one kind that differ a little in height, lean and turn."""
    return tuple(
        replace(
            shape,
            foot_x_mm=x,
            height_mm=shape.height_mm + 0.3 * (number % 5),
            azimuth_rad=1.1 * number,
            slope_x=0.01 * (number % 3 - 1),
        )
        for number, x in enumerate(places_mm)
    )


def reference_of(target: Card | Square) -> Reference:
    """What a reference file would state of a target."""
    if isinstance(target, Card):
        shape: SquareCard | TrySquare = SquareCard(
            side_mm=target.side_mm, bottom_margin_mm=target.bottom_margin_mm
        )
    else:
        shape = TrySquare(
            blade_mm=target.blade_mm,
            stock_mm=target.stock_mm,
            blade_width_mm=target.blade_width_mm,
            stock_width_mm=target.stock_width_mm,
        )
    return Reference(
        shape=shape,
        expanded_uncertainty_mm=0.05,
        face_offset_mm=target.face_offset_mm,
        face_offset_uncertainty_mm=1.0,
    )
