"""The photo seen square-on in the springs' axis plane, at reduced size.

Springs are looked for here, where x and z are millimetres and the plate is level;
edges are measured in the photo itself, never in this resampled view.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera import directions, pixels_per_mm, project
from calib.records import Calibration, Camera, Floats, Photo

LOWEST_MM = -10.0  # below the plate line, where shadows and the plate's front lie
HIGHEST_MM = 140.0  # springs of up to 120 mm and the backdrop above them
DENSEST_PX_PER_MM = 6.0
LARGEST_PX = 4_000_000
MESH = 8  # px; a lens bends a line over them by far less than a pixel


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneView:
    """Lab colours (h, w, 3) float32 over the axis plane; row 0 is the highest z.

    ``seen`` (h, w) is False where the plane lies outside the photo.
    """

    lab: NDArray[np.float32]
    seen: NDArray[np.bool_]
    left_mm: float
    top_mm: float
    px_per_mm: float

    def column(self, x_mm: float) -> float:
        """Column of an x."""
        return (x_mm - self.left_mm) * self.px_per_mm

    def row(self, z_mm: float) -> float:
        """Row of a z."""
        return (self.top_mm - z_mm) * self.px_per_mm

    def to_mm(self, columns_rows: Floats) -> Floats:
        """(n, 2) columns and rows to (n, 3) points of the axis plane."""
        x = self.left_mm + columns_rows[:, 0] / self.px_per_mm
        z = self.top_mm - columns_rows[:, 1] / self.px_per_mm
        return np.column_stack([x, np.zeros(len(x)), z])


def meet_axis_plane(camera: Camera, points_px: Floats) -> Floats:
    """Where rays through picture points meet y = 0; (n, 3) mm, nan if they do not."""
    rays = directions(camera, points_px)
    with np.errstate(divide="ignore", invalid="ignore"):
        far = -camera.position_mm[1] / rays[:, 1]
    far = np.where(far > 0, far, np.nan)
    return np.asarray(camera.position_mm + far[:, None] * rays)


def view_axis_plane(photo: Photo, calibration: Calibration) -> PlaneView:
    """Resample the photo onto the axis plane, as far as it shows it."""
    camera = calibration.camera
    left, right, top = _extent(camera)
    middle = np.array([(left + right) / 2, 0.0, 20.0])
    native = pixels_per_mm(camera, middle)
    area_mm2 = max((right - left) * (top - LOWEST_MM), 1.0)
    scale = min(DENSEST_PX_PER_MM, native, float(np.sqrt(LARGEST_PX / area_mm2)))
    width, height = int((right - left) * scale), int((top - LOWEST_MM) * scale)
    shrink = max(1.0, native / scale)
    source, factor = _reduced(photo, shrink)
    maps = _map(camera, (left, top, scale), (width, height), factor)
    seen = (
        (maps[..., 0] >= 0)
        & (maps[..., 1] >= 0)
        & (maps[..., 0] <= source.shape[1] - 1)
        & (maps[..., 1] <= source.shape[0] - 1)
    )
    flat = cv2.remap(
        source,
        maps[..., 0],
        maps[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    lab = cv2.cvtColor(np.divide(flat, 255.0, dtype=np.float32), cv2.COLOR_RGB2Lab)
    return PlaneView(
        lab=np.asarray(lab, dtype=np.float32),
        seen=seen,
        left_mm=left,
        top_mm=top,
        px_per_mm=scale,
    )


def _map(
    camera: Camera,
    frame: tuple[float, float, float],
    size: tuple[int, int],
    factor: float,
) -> NDArray[np.float32]:
    """Where each pixel of the view (h, w) lies in the reduced photo (h, w, 2).

    The mapping is smooth: it is computed at every `MESH`-th pixel, linear in between.
    """
    left, top, scale = frame
    width, height = size
    knots = [np.arange(-(-length // MESH) + 1) * MESH for length in size]
    columns, rows = np.meshgrid(*knots)
    grid = np.column_stack(
        [
            left + columns.ravel() / scale,
            np.zeros(columns.size),
            top - rows.ravel() / scale,
        ]
    )
    where = (project(camera, grid) + 0.5) * factor - 0.5
    coarse = where.reshape(*columns.shape, 2).astype(np.float32)
    steps = np.meshgrid(
        np.arange(width, dtype=np.float32) / MESH,
        np.arange(height, dtype=np.float32) / MESH,
    )
    return np.asarray(cv2.remap(coarse, *steps, cv2.INTER_LINEAR), dtype=np.float32)


def _extent(camera: Camera) -> tuple[float, float, float]:
    width, height = camera.size_px
    t = np.linspace(0.0, 1.0, 9)
    sides = np.concatenate(
        [
            np.column_stack([np.zeros(9), t * (height - 1)]),
            np.column_stack([np.full(9, width - 1), t * (height - 1)]),
            np.column_stack([t * (width - 1), np.zeros(9)]),
        ]
    )
    met = meet_axis_plane(camera, sides)
    near = met[np.isfinite(met).all(axis=1)]
    low = near[(near[:, 2] > LOWEST_MM) & (near[:, 2] < HIGHEST_MM)]
    across = low if len(low) > 1 else near
    top = min(HIGHEST_MM, float(near[:, 2].max()))
    return float(across[:, 0].min()), float(across[:, 0].max()), max(top, 20.0)


def _reduced(photo: Photo, shrink: float) -> tuple[NDArray[np.uint8], float]:
    rgb = photo.rgb
    if rgb.dtype == np.uint16:
        rgb = (rgb >> 8).astype(np.uint8)
    if shrink < 1.2:  # noqa: PLR2004 - not worth another pass over the picture
        return np.asarray(rgb, dtype=np.uint8), 1.0
    height, width = rgb.shape[:2]
    size = (round(width / shrink), round(height / shrink))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8), size[0] / width
