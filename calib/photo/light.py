"""Photo -> linear light, by tables: blur happens in linear light, so edges do too."""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.records import Grey, Photo

Pixels = NDArray[np.uint8] | NDArray[np.uint16]
Box = tuple[int, int, int, int]  # x0, y0, x1, y1 px; x1 and y1 are not included

LUMINANCE = (0.2126, 0.7152, 0.0722)  # of linear R, G, B (IEC 61966-2-1, CIE Y)
SRGB_KNEE = 0.0031308  # linear level where the straight foot ends (IEC 61966-2-1)
BLOWN = 254 / 255  # of full scale: compression rattles blown white by about one level
STRIP_ROWS = 64  # keeps the three-channel intermediate inside the processor's cache


def linear_grey(photo: Photo, box: Box | None = None) -> Grey:
    """Give linear luminance 0..1, (h, w) float32; pixel (0, 0) is the box's corner."""
    pixels = _cut(photo, box)
    table = _linear_table(pixels.dtype.itemsize)
    weights = np.array([LUMINANCE], np.float32)
    grey = np.empty(pixels.shape[:2], np.float32)
    for top in range(0, len(pixels), STRIP_ROWS):
        strip = _by_table(pixels[top : top + STRIP_ROWS], table)
        grey[top : top + STRIP_ROWS] = cv2.transform(strip, weights)
    return grey


def linear_rgb(photo: Photo, box: Box | None = None) -> Grey:
    """Give linear R, G, B 0..1, (h, w, 3) float32."""
    pixels = _cut(photo, box)
    return _by_table(pixels, _linear_table(pixels.dtype.itemsize))


def clipped(photo: Photo, box: Box | None = None) -> NDArray[np.bool_]:
    """Mark pixels blown in any channel, (h, w): their true level is unknown."""
    pixels = _cut(photo, box)
    limit = int(np.iinfo(pixels.dtype).max * BLOWN)
    over = cv2.inRange(np.ascontiguousarray(pixels), (0, 0, 0), (limit - 1,) * 3)
    return np.asarray(over == 0)


def encode_srgb(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Encode linear light 0..1 by the sRGB curve (IEC 61966-2-1)."""
    light = np.clip(linear, 0.0, 1.0)
    return np.where(
        light <= SRGB_KNEE, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )


def decode_srgb(encoded: NDArray[np.float64]) -> NDArray[np.float64]:
    """Undo the sRGB curve: encoded 0..1 to linear light (IEC 61966-2-1)."""
    return np.where(
        encoded <= 12.92 * SRGB_KNEE,
        encoded / 12.92,
        ((encoded + 0.055) / 1.055) ** 2.4,
    )


@cache
def _linear_table(bytes_per_channel: int) -> Grey:
    levels = np.arange(256**bytes_per_channel, dtype=np.float64)
    table = decode_srgb(levels / levels[-1]).astype(np.float32)
    table.flags.writeable = False
    return table


def _by_table(pixels: Pixels, table: Grey) -> Grey:
    compact = np.ascontiguousarray(pixels, pixels.dtype)
    return cv2.LUT(compact, table)  # type: ignore[arg-type, return-value]  # stubs


def _cut(photo: Photo, box: Box | None) -> Pixels:
    if box is None:
        return photo.rgb
    x0, y0, x1, y1 = box
    width, height = photo.size_px
    if not (0 <= x0 < x1 and 0 <= y0 < y1 and x0 < width and y0 < height):
        raise ValueError(f"box {box} does not lie in a picture of {width}x{height}")
    return photo.rgb[y0:y1, x0:x1]
