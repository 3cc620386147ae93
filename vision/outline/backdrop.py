"""What the picture would show without springs, and how far each pixel is from it.

Springs are full of edges, plate and backdrop are not: columns without vertical detail
show the backdrop itself, row by row, and lend it to the columns between them. So a
plate edge, a sweep, uneven light and a dark plate before a lit wall need no model.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import threshold_otsu

from vision.outline.plane import PlaneView

BUSY_BAND_MM = (3.0, 24.0)  # where even a 15 mm spring shows detail
GUARD_MM = 2.0  # kept clear of springs on each side of a quiet column
REACH_MM = (5.0, 20.0, 80.0)  # how far a column borrows its backdrop, near first
NOISE_FLOOR_LAB = (1.0, 0.7, 0.7)  # 8-bit coding and JPEG leave at least this
CLEAR_EDGE = 1.5  # Lab units per pixel; quieter columns are quiet whatever the rest

Lab = NDArray[np.float32]
Mask = NDArray[np.bool_]


def find_quiet_columns(view: PlaneView, excluded: Mask) -> Mask:
    """Columns (w,) that show plate and backdrop only; ``excluded`` (w,) never do."""
    top, bottom = (int(view.row(z)) for z in reversed(BUSY_BAND_MM))
    band = view.lab[max(top, 0) : bottom]
    seen = view.seen[max(top, 0) : bottom]
    detail = np.zeros(band.shape[1])
    for channel in range(3):
        slope = cv2.Scharr(np.ascontiguousarray(band[..., channel]), cv2.CV_32F, 0, 1)
        slope = np.abs(slope - np.median(slope, axis=1, keepdims=True)) / 32.0
        detail += np.where(seen, slope, 0).sum(axis=0) / np.maximum(seen.sum(0), 1)
    detail = cv2.blur(detail[None].astype(np.float32), (5, 1))[0]
    usable = seen.any(axis=0) & ~excluded
    level = np.log(np.maximum(detail[usable], 1e-3))
    limit = float(np.exp(threshold_otsu(level))) if np.ptp(level) > 0 else CLEAR_EDGE
    busy = detail > max(
        min(limit, CLEAR_EDGE), float(np.quantile(detail[usable], 0.02))
    )
    guard = max(int(GUARD_MM * view.px_per_mm), 1)
    spread = cv2.dilate(busy.astype(np.uint8)[None], np.ones((1, 2 * guard + 1)))[0]
    quiet = usable & (spread == 0)
    return np.asarray(quiet if quiet.any() else usable & ~busy)


def model_backdrop(view: PlaneView, quiet: Mask) -> Lab:
    """Lab (h, w, 3) without springs, borrowed along rows from the quiet columns."""
    weight = (view.seen & quiet[None]).astype(np.float32)
    total = np.zeros_like(view.lab)
    share = np.zeros_like(weight)
    for reach_mm in REACH_MM:
        size = 2 * int(reach_mm * view.px_per_mm) + 1
        near = cv2.blur(weight, (size, 1), borderType=cv2.BORDER_CONSTANT)
        colour = cv2.blur(
            view.lab * weight[..., None], (size, 1), borderType=cv2.BORDER_CONSTANT
        )
        trust = near * (1e-3 ** REACH_MM.index(reach_mm))
        total += colour * (1e-3 ** REACH_MM.index(reach_mm))
        share += trust
    whole = np.maximum(weight.sum(axis=1, keepdims=True), 1e-6)
    row_mean = (view.lab * weight[..., None]).sum(axis=1, keepdims=True) / whole[
        ..., None
    ]
    known = share > 1e-9  # noqa: PLR2004 - below float32 noise
    model = total / np.maximum(share, 1e-12)[..., None]
    return np.where(known[..., None], model, row_mean).astype(np.float32)


def distance_from_backdrop(view: PlaneView, backdrop: Lab, quiet: Mask) -> Lab:
    """How many backdrop sigmas each pixel (h, w) is away; 0 outside the photo."""
    away = view.lab - backdrop
    sample = away[:, quiet][view.seen[:, quiet]]
    spread = 1.4826 * np.median(np.abs(sample), axis=0) if len(sample) else np.zeros(3)
    sigma = np.hypot(spread, NOISE_FLOOR_LAB).astype(np.float32)
    distance = np.sqrt(((away / sigma) ** 2).sum(axis=2))
    return np.where(view.seen, distance, 0).astype(np.float32)
