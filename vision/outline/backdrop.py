"""How far each pixel is from what plate and backdrop may show there.

Springs are full of edges, plate and backdrop are not: columns without vertical detail
show the backdrop itself, row by row. Behind a spring it may be what is seen on its
left, what is seen on its right, or any mixture of both: so a plate edge, uneven light,
the edge of a shadow or of a sheet of paper, and a dark plate before a lit wall need no
model. How well a column is told from those farther away says what to believe.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import threshold_otsu

from vision.outline.plane import PlaneView

BUSY_BAND_MM = (3.0, 24.0)  # where even a 15 mm spring shows detail
GUARD_MM = 2.0  # kept clear of springs on each side of a quiet column
LENDING_MM = 3.0  # neighbouring quiet columns that are taken together
HALF_SPRING_MM = 8.0  # how far a column behind a spring is from those that tell of it
ROWS_MM = 2.0  # rows whose spread is taken together
EACH = 4  # row looked at for it
NOISE_FLOOR_LAB = (1.0, 0.7, 0.7)  # 8-bit coding and JPEG leave at least this
CLEAR_EDGE = 1.5  # Lab units per pixel; quieter columns are quiet whatever the rest
FEW = 0.3  # of the columns without coils
ROWS_AT_ONCE = 64

Lab = NDArray[np.float32]
Mask = NDArray[np.bool_]
Sides = tuple[Lab, Lab]  # backdrop to the left and to the right, (h, w, 3) each


def find_quiet_columns(view: PlaneView, target: Mask, coils: Mask) -> Mask:
    """Columns (w,) that show plate and backdrop only, clear of target and coils (w,).

    Where a busy backdrop leaves few of them, all that show no coils have to do.
    """
    top, bottom = (int(view.row(z)) for z in reversed(BUSY_BAND_MM))
    band = view.lab[max(top, 0) : bottom]
    seen = view.seen[max(top, 0) : bottom]
    detail = np.zeros(band.shape[1])
    for channel in range(3):
        slope = cv2.Scharr(np.ascontiguousarray(band[..., channel]), cv2.CV_32F, 0, 1)
        slope = np.abs(slope - np.median(slope, axis=1, keepdims=True)) / 32.0
        detail += np.where(seen, slope, 0).sum(axis=0) / np.maximum(seen.sum(0), 1)
    detail = cv2.blur(detail[None].astype(np.float32), (5, 1))[0]
    usable = seen.any(axis=0) & ~target
    level = np.log(np.maximum(detail[usable], 1e-3))
    limit = float(np.exp(threshold_otsu(level))) if np.ptp(level) > 0 else CLEAR_EDGE
    busy = detail > max(
        min(limit, CLEAR_EDGE), float(np.quantile(detail[usable], 0.02))
    )
    free = usable & ~_widened(view, coils)
    quiet = free & ~_widened(view, busy)
    if quiet.sum() < FEW * free.sum():
        quiet = free
    return np.asarray(quiet if quiet.any() else usable & ~busy)


def _widened(view: PlaneView, columns: Mask) -> Mask:
    guard = max(int(GUARD_MM * view.px_per_mm), 1)
    kernel = np.ones((1, 2 * guard + 1))
    return np.asarray(cv2.dilate(columns.astype(np.uint8)[None], kernel)[0] > 0)


def distance_from_backdrop(view: PlaneView, quiet: Mask) -> Lab:
    """How many backdrop sigmas each pixel (h, w) is away; 0 outside the photo."""
    distance = np.zeros(view.seen.shape, dtype=np.float32)
    for first in range(0, len(distance), ROWS_AT_ONCE):
        rows = slice(first, first + ROWS_AT_ONCE)
        lab = view.lab[rows]
        sigma = _spread(view, lab, quiet)
        away = _away_from(lab / sigma, _told(view, lab / sigma, quiet, 0.0))
        distance[rows] = np.sqrt(_dot(away, away))
    return np.where(view.seen, distance, 0).astype(np.float32)


def _told(view: PlaneView, lab: Lab, quiet: Mask, apart_mm: float) -> Sides:
    """Take what the nearest quiet columns show that lie ``apart_mm`` away or more."""
    which = np.flatnonzero(quiet)
    size = max(int(LENDING_MM * view.px_per_mm), 1)
    total = np.concatenate(
        [np.zeros_like(lab[:, :1]), np.cumsum(lab[:, which], axis=1, dtype=np.float64)],
        axis=1,
    )
    column, apart = np.arange(len(quiet)), apart_mm * view.px_per_mm
    end = np.searchsorted(which, column - apart, side="right")
    start = np.searchsorted(which, column + apart, side="left")
    only_right, only_left = end == 0, start == len(which)
    end, start = np.maximum(end, 1), np.minimum(start, len(which) - 1)
    first, beyond = _runs(which)
    before = np.maximum(end - size, first[end - 1])
    after = np.minimum(start + size, beyond[start])
    left = (total[:, end] - total[:, before]) / (end - before)[:, None]
    right = (total[:, after] - total[:, start]) / (after - start)[:, None]
    left, right = (
        np.where(only_right[:, None], right, left),
        np.where(only_left[:, None], left, right),
    )
    return left.astype(np.float32), right.astype(np.float32)


def _runs(which: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where among sorted columns the unbroken run of each begins and ends."""
    breaks = np.flatnonzero(np.diff(which) > 1) + 1
    edges = np.concatenate([[0], breaks, [len(which)]])
    run = np.searchsorted(breaks, np.arange(len(which)), side="right")
    return edges[run], edges[run + 1]


def _away_from(lab: Lab, told: Sides) -> Lab:
    """Vector (h, w, 3) from the nearest mixture of both sides' colours."""
    left, right = told
    step = right - left
    away = lab - left
    share = _dot(away, step) / np.maximum(_dot(step, step), 1e-6)
    return np.asarray(away - np.clip(share, 0.0, 1.0)[:, :, None] * step)


def _dot(one: Lab, other: Lab) -> Lab:
    return np.asarray(np.einsum("hwc,hwc->hw", one, other))


def _spread(view: PlaneView, lab: Lab, quiet: Mask) -> Lab:
    """Sigma (h, 1, 3) of quiet columns about what those farther away tell of them."""
    some = lab[::EACH]  # neighbouring rows are taken together anyway
    away = _away_from(some, _told(view, some, quiet, HALF_SPRING_MM))[:, quiet]
    spread = 1.4826 * np.median(np.abs(away), axis=1, keepdims=True)
    size = 2 * int(ROWS_MM * view.px_per_mm / EACH / 2) + 1
    smooth = cv2.blur(spread, (1, size)).reshape(spread.shape)
    sigma = np.hypot(smooth, NOISE_FLOOR_LAB).astype(np.float32)
    return np.repeat(sigma, EACH, axis=0)[: len(lab)]
