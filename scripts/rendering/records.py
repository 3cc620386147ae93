"""Records that flow through the renderer, in the order in which they flow.

World frame: plate z = 0, x along the row to the right, z up, y away from the
camera; the springs' axes stand in the plane y = 0. All lengths in mm.
"""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]
Integers = npt.NDArray[np.integer[Any]]
Taper = Literal["straight", "conical", "beehive"]
Hand = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringShape:
    """Nominal shape of one closed and ground compression spring.

    ``lean_*_mm`` is the offset of the top end coil's centre from the bottom one's,
    ``bow_*_mm`` the sideways bulge at mid height, both before the spring is turned
    by ``azimuth_deg`` about its own axis. ``tip_fraction`` is the thickness left at
    the wire's tip over the wire diameter, ``end_pitch`` the end coils' pitch over it.
    """

    free_height_mm: float
    wire_mm: float
    mean_bottom_mm: float
    mean_top_mm: float
    taper: Taper = "straight"
    coils: float
    hand: Hand = "right"
    azimuth_deg: float = 0.0
    lean_x_mm: float = 0.0
    lean_y_mm: float = 0.0
    bow_x_mm: float = 0.0
    bow_y_mm: float = 0.0
    tip_fraction: float = 0.25
    end_pitch: float = 1.03
    unparallel_mm: float = 0.0
    unparallel_azimuth_deg: float = 0.0
    burr_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSpring:
    """A spring, where its axis meets the plate and how far it was turned there."""

    shape: SpringShape
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Triangles: vertices (n, 3) in mm, faces (m, 3), normals (n, 3).

    ``texture`` (n, 2) places a surface's texture where it has one.
    """

    vertices: Floats
    faces: Integers
    normals: Floats
    texture: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringTruth:
    """What is known of a placed spring, taken from its trimmed solid."""

    free_height_mm: float
    outside_bottom_mm: float
    outside_middle_mm: float
    outside_top_mm: float
    top_rim_radius_mm: float
    bottom_rim_radius_mm: float
    lean_x_mm: float
    lean_y_mm: float
    unparallel_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrySquare:
    """An L square: blade upright on its lying stock, outer corner at the plate.

    ``hand`` is the side to which the stock points, seen by the camera. The front
    face of the blade is the reference plane; the stock's projects towards the
    camera by ``stock_projection_mm``.
    """

    blade_mm: float
    stock_mm: float
    blade_width_mm: float
    stock_width_mm: float
    thickness_mm: float = 1.5
    stock_projection_mm: float = 0.0
    hand: Hand = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareCard:
    """A white card standing on the plate with a printed solid black square."""

    side_mm: float
    bottom_margin_mm: float
    margin_mm: float = 12.0


Target = TrySquare | SquareCard


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedTarget:
    """A target as it stands: actual sizes, and the sizes that its owner states.

    ``x_mm`` is the try square's outer corner or the card's middle; the front face
    stands at y = -``face_offset_mm`` there, turned by ``yaw_deg`` about the
    plate's normal.
    """

    actual: Target
    stated: Target
    x_mm: float
    face_offset_mm: float
    stated_face_offset_mm: float
    yaw_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A camera with radial distortion in normalised coordinates (k1, k2).

    Pitch is positive when it looks down, yaw when it looks to the right, roll when
    the camera is turned clockwise. Pixel (0, 0) is the centre of the upright
    picture's top-left pixel.
    """

    x_mm: float
    y_mm: float
    z_mm: float
    pitch_deg: float
    roll_deg: float
    yaw_deg: float
    focal_px: float
    width_px: int
    height_px: int
    cx_px: float
    cy_px: float
    k1: float = 0.0
    k2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Surroundings, by name: see ``stage.py`` for the names and what they build."""

    plate: str
    backdrop: str
    light: str
    finish: str
    back_edge_mm: float = 110.0
    backdrop_mm: float = 260.0
    colour: tuple[float, float, float] = (0.10, 0.22, 0.42)
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Development:
    """Lens, sensor and processing of the picture, after the light arrived.

    ``white_level`` is the linear value (0..1) at which the backdrop, or the
    brightest part of the objects on a dark one, is exposed.
    """

    blur_px: float
    white_level: float = 0.72
    noise: float = 0.008
    vignetting: float = 0.10
    glare: float = 0.01
    s_curve: float = 0.0
    sharpening: float = 0.0
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    jpeg_quality: int = 92
    orientation: int = 1
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ExifFacts:
    """What the phone writes into the file; None leaves the entry out."""

    make: str
    model: str
    focal_mm: float | None
    focal_35mm: int | None
    taken: str
    exposure_s: float = 1 / 60
    f_number: float = 2.8
    iso: int = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Invented limits of a service specification for the springs in a scene."""

    name: str
    free_height_min_mm: float
    free_height_max_mm: float
    squareness_max: str
    spread_max_mm: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything that one picture shows and how it was taken.

    ``target`` is None where the row was photographed without it;
    ``inner_limits`` are those of the inner springs where both kinds stand;
    ``samples``, a square number, are traced for each pixel about the objects.
    """

    name: str
    springs: tuple[PlacedSpring, ...]
    target: PlacedTarget | None
    camera: Camera
    stage: Stage
    development: Development
    exif: ExifFacts
    limits: Limits
    staging: str
    spring_kind: str
    note: str = ""
    inner_limits: Limits | None = None
    samples: int = 16
