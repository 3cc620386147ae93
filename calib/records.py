"""The records of calibration, in the order in which they flow.

record            made by            read by
Exif, Photo       photo              target, lens, vision.outline
Lens              lens, store        calibrate
Reference         store              target, calibrate
EdgePoints        edge               target, vision.spring
Sighting          target             camera, calibrate
Camera            camera             vision.spring, vision.output
Variant           calibrate          vision.spring
Calibration       calibrate, store   vision

Frame: the plate is z = 0, x runs along the row to the right, z up, y away from the
camera; the springs' axes stand at y = 0; the target's face at y = -face_offset_mm and
its outer (or lower left) corner at x = 0. Lengths in mm, angles in rad unless the name
says otherwise. Picture points are (x, y) in px; (0, 0) is the top-left pixel's centre.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from enum import Enum
from typing import Self

import numpy as np
from numpy.typing import NDArray

from calib.quantity import Quantity

Floats = NDArray[np.float64]
Grey = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exif:
    """What the camera wrote; None where it wrote nothing."""

    make: str | None = None
    model: str | None = None
    focal_length_mm: float | None = None
    focal_length_35mm: float | None = None
    focal_plane_px_per_mm: float | None = None
    digital_zoom: float | None = None
    taken_at: datetime | None = None
    recorded_size_px: tuple[int, int] | None = None  # PixelX/YDimension as stored
    orientation: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """A picture as seen upright; ``rgb`` is (h, w, 3) uint8 or uint16, sRGB-encoded."""

    name: str
    sha256: str
    rgb: NDArray[np.uint8] | NDArray[np.uint16]
    exif: Exif
    remarks: tuple[str, ...] = ()

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.rgb.shape[1], self.rgb.shape[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A camera's own geometry from chessboard photos (unit of focal and centre: px)."""

    camera: str  # make and model
    size_px: tuple[int, int]
    focal_px: float
    focal_u_px: float
    centre_px: tuple[float, float]
    centre_u_px: float
    k1: float
    k1_u: float
    k2: float
    k2_u: float
    rms_px: float
    views: int
    focal_length_mm: float | None = None
    format: int = 1


class TargetKind(Enum):
    """The reference targets that can be stood on the plate."""

    TRY_SQUARE = "try-square"
    SQUARE_CARD = "square-card"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrySquare:
    """Outer edges of an L square standing on its stock, from the outer corner."""

    blade_mm: float
    stock_mm: float
    blade_width_mm: float
    stock_width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareCard:
    """A solid square on a card whose lower edge stands on the plate."""

    side_mm: float
    bottom_margin_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A target with its sizes and where it stood; U values have k = 2."""

    shape: TrySquare | SquareCard
    expanded_uncertainty_mm: float
    face_offset_mm: float
    face_offset_uncertainty_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """A record whose fields are all arrays, with one row for each of n things."""

    def chosen(self, which: NDArray[np.bool_] | NDArray[np.intp]) -> Self:
        """Keep some of the rows, by a mask (n,) or by their places."""
        places = np.flatnonzero(which) if which.dtype == bool else which
        parts = {
            each.name: getattr(self, each.name).take(places, axis=0)
            for each in fields(self)
        }
        return type(self)(**parts)

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """Put the rows of several records after one another."""
        every = {
            each.name: np.concatenate([getattr(part, each.name) for part in parts])
            for each in fields(cls)
        }
        return cls(**every)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgePoints(Rows):
    """Sub-pixel points on an edge, located in linear light.

    ``points_px`` (n, 2); ``normals`` (n, 2) unit, pointing outward to the backdrop;
    ``blur_px`` (n,) Gaussian sigma of the edge; ``inside``, ``outside`` (n,) linear
    levels 0..1; ``u_px`` (n,) standard uncertainty along the normal from noise.
    ``spread_px2`` (n,) is from how far along the edge the light came by which each was
    located, as a variance: an edge of radius R is seen spread / (2 R) inward of it.
    """

    points_px: Floats
    normals: Floats
    blur_px: Floats
    inside: Floats
    outside: Floats
    u_px: Floats
    spread_px2: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One straight edge of the target: its name and its points in the picture."""

    name: str
    points: EdgePoints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighting:
    """A target found in a photo: its sides and, for a try square, its hand.

    ``direction`` is +1 when the stock runs to the right of the blade (or for a card),
    -1 when it runs to the left. ``corners_px`` are rough, for drawing and masking.
    """

    kind: TargetKind
    direction: int
    sides: tuple[Side, ...]
    corners_px: Floats
    blur_px: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Camera:
    """Pinhole with radial distortion; ``rotation`` takes world axes to camera axes.

    Camera axes: x right, y down, z forward. X_camera = rotation @ (X - position_mm).
    Distortion: x_d = x (1 + k1 r^2 + k2 r^4) on normalised coordinates.
    """

    size_px: tuple[int, int]
    focal_px: float
    centre_px: Floats
    k1: float
    k2: float
    rotation: Floats
    position_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """The camera as it would be with one shared influence one u away from its estimate.

    ``axis_plane_shift_mm`` moves the springs' axes along y; ``edge_shift_px`` moves
    every located edge along its outward normal.
    """

    source: str
    label: str
    camera: Camera
    axis_plane_shift_mm: float = 0.0
    edge_shift_px: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FocalCase:
    """What a calibration would be with one focal length, where none is known.

    ``log_share`` is the logarithm of its probability, but for a constant that all
    cases of a calibration share; ``cut`` tells whether the picture would be part of a
    larger one, the lens's axis anywhere.
    """

    log_share: float
    camera: Camera
    edge_offset_px: float
    variants: tuple[Variant, ...]
    cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """What one reference photo taught: camera, scale, plate and how sure.

    ``edge_offset_px`` is how far edges appear moved outward (to be taken off located
    edges along their normals); ``blur_px`` the sigma of the target's own edges;
    ``target_box_mm`` (x_min, z_min, x_max, z_max) of the target on its face plane.
    ``focal_cases``, of whole pictures, then of cut ones, each shortest first, are there
    until the row has told the focal length.
    """

    photo_name: str
    photo_sha256: str
    exif: Exif
    reference: Reference
    camera: Camera
    px_per_mm: Quantity
    edge_offset_px: float
    blur_px: float
    target_box_mm: tuple[float, float, float, float]
    target_outline_px: Floats
    variants: tuple[Variant, ...]
    residual_px: float
    axis_plane_mm: float = 0.0  # y of the springs' axes, once the row has told
    focal_known: bool = True  # by lens file, the camera's record, a distance or the row
    focal_cases: tuple[FocalCase, ...] = ()
    remarks: tuple[str, ...] = ()
    thumbnail: NDArray[np.uint8] | None = None  # what stood still, for the moved check
    format: int = field(default=1)
