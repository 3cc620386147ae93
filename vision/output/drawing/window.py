"""Which part of a photo is shown, and where on the canvas it lies."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.output.drawing.box import Box

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A part of the photo in whole px, and the canvas box that it fills."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int
    box: Box

    @property
    def scale(self) -> float:
        """Canvas px per photo px."""
        return self.box.width / self.width_px

    def place(self, points_px: Floats) -> Floats:
        """Give the canvas points of photo points (n, 2)."""
        origin = np.array([self.left_px, self.top_px]) - 0.5
        stretch = np.array([self.scale, self.box.height / self.height_px])
        corner = np.array([self.box.left, self.box.top]) - 0.5
        placed: Floats = (np.asarray(points_px) - origin) * stretch + corner
        return placed


def eight_bit(rgb: NDArray[np.uint8] | NDArray[np.uint16]) -> Pixels:
    """Bring a photo's values to 8 bits."""
    if rgb.dtype == np.uint16:
        return (rgb >> 8).astype(np.uint8)
    return rgb.astype(np.uint8, copy=False)


def show_window(canvas: Pixels, rgb: NDArray[np.generic], window: Window) -> None:
    """Put that part of the photo on the canvas, in the size of its box."""
    rows = slice(window.top_px, window.top_px + window.height_px)
    columns = slice(window.left_px, window.left_px + window.width_px)
    part = eight_bit(rgb[rows, columns])  # type: ignore[arg-type]
    box = window.box
    size = round(box.width), round(box.height)
    smooth = cv2.INTER_AREA if window.scale < 1 else cv2.INTER_CUBIC
    left, top = round(box.left), round(box.top)
    canvas[top : top + size[1], left : left + size[0]] = cv2.resize(
        np.ascontiguousarray(part), size, interpolation=smooth
    )
