"""Columns in which wire and what is behind it take turns: where coils stand.

A column through a spring crosses its wire twice in every turn, before whatever
backdrop; one through a shadow's edge, a fold, a box or a can crosses an edge or two.
"""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from skimage.measure import label

from vision.outline.plane import PlaneView

LOWEST_MM, HIGHEST_MM = 1.5, 24.0  # where even a 15 mm spring shows its turns
FINE_MM = 0.25  # what is finer is texture
NOISE_MM, EDGE_MM = 1.0, 5.0  # noise has nothing in common; edges take less
LEAST_SWING_LAB = 6.0  # between wire and backdrop; less is shading
NOISE_SWINGS = 6.0  # sigmas of texture that a swing must exceed
NOISE_SWINGS_AT_TARGET = 10.0  # over its whole height noise has more chances
MOST_SWING_LAB = 25.0  # dark wire on white swings by 50 or more
QUIETEST = 0.1  # share of columns that surely show no spring
CALMEST = 0.2  # share that shows what runs level through the whole picture
TURNS, POSSIBLE_TURNS = 4, 3  # swings up or down; a thing's two edges make two
COHERENT_MM = 1.5  # along the row, in which a coil rises little and noise averages
TURNS_BEFORE_TARGET = 5  # over its whole height; its own edges make up to two
BESIDE_MM = 2.0  # of coils, where their blur ends and what is behind them shows
GAP_MM, WIDTH_MM = 1.0, 5.0  # columns without turns within coils; least width of coils
# Before a light the middle of close coils is black all over: columns without turns
# between coils, this narrow, that are no backdrop by so much.
MIDDLE_MM, UNLIKE_LAB = 12.0, 25.0
LEAST_TOP_MM = 10.0  # what turns lower only is the plate's grain; springs have 15 mm
PITCH_MM = 15.0  # turns farther up than this belong to something else

Mask = NDArray[np.bool_]
Counts = NDArray[np.intp]
Lab = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coils:
    """Where columns show coils (w,), and how high the turns reach, mm (w,)."""

    columns: Mask
    top_mm: NDArray[np.float64]


def find_coils(view: PlaneView, target: Mask, target_top_mm: float) -> Coils:
    """Find columns with coils; those of the target (w,) have edges of their own.

    Coils take turns in the picture itself and in its difference from what runs level
    through it; stripes do so in the picture alone, their ends in the difference alone.
    """
    size = max(FINE_MM * view.px_per_mm, 0.3)
    smooth: Lab = np.asarray(
        cv2.GaussianBlur(view.lab, (1, 0), sigmaX=0.01, sigmaY=size), dtype=np.float32
    )
    plain = view.seen.any(axis=0) & ~target
    if not plain.any():
        plain = ~plain
    low, high = int(view.row(LOWEST_MM)), max(int(view.row(HIGHEST_MM)), 0)
    detail = np.abs(np.diff(smooth[high:low, :, 0], axis=0)).mean(axis=0)
    calm = plain & (detail <= np.quantile(detail[plain], CALMEST))
    usual = np.median(smooth[:, calm], axis=1, keepdims=True)
    level: Lab = np.asarray(smooth - usual, dtype=np.float32)
    pitch = PITCH_MM * view.px_per_mm
    turns, top = np.zeros((2, len(target)), dtype=np.intp)
    for channel in range(3):
        swing = np.full(len(target), _swing(level[high:low, :, channel], plain))
        apart, itself = (
            _count_turns(shown[:low, :, channel][::-1], swing, low - high, pitch)
            for shown in (level, smooth)
        )
        count, reach = np.minimum(apart, itself)
        turns = np.maximum(turns, count)
        top = np.maximum(top, np.where(count >= POSSIBLE_TURNS, reach, 0))
    at_target = _before_target(view, smooth[..., 0], target, target_top_mm)
    turns[target], top[target] = at_target[0][target], at_target[1][target]
    top_mm = LOWEST_MM + top / view.px_per_mm
    turns[top_mm < LEAST_TOP_MM] = 0
    columns = _columns(view, turns, target)
    columns = _with_middles(view, columns, smooth[high:low], target)
    return Coils(columns=columns, top_mm=top_mm)


def _before_target(
    view: PlaneView, lightness: NDArray[np.float32], target: Mask, top_mm: float
) -> tuple[Counts, Counts]:
    """Count turns of lightness over a target's height; ink's colours are noise."""
    across = int(COHERENT_MM * view.px_per_mm) | 1
    low = int(view.row(LOWEST_MM))
    faces = np.asarray(cv2.blur(lightness[:low], (across, 1)), dtype=np.float32)
    swing = np.full(len(target), _noise_swing(view, faces[:, target]))
    rows = int((top_mm - LOWEST_MM) * view.px_per_mm)
    return _count_turns(faces[::-1], swing, rows, PITCH_MM * view.px_per_mm)


def _columns(view: PlaneView, turns: Counts, target: Mask) -> Mask:
    """Columns (w,) that turn often enough, without narrow gaps and narrow pieces."""
    sure = np.where(target, turns >= TURNS_BEFORE_TARGET, turns >= TURNS)
    possible = np.where(target, sure, turns >= POSSIBLE_TURNS)
    gap, width = (int(each * view.px_per_mm) | 1 for each in (GAP_MM, WIDTH_MM))
    closed = cv2.morphologyEx(
        possible.astype(np.uint8)[None], cv2.MORPH_CLOSE, np.ones((1, gap))
    )
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((1, width)))[0] > 0
    spans = label(opened)
    kept = np.unique(spans[sure & opened])
    return np.asarray(np.isin(spans, kept[kept > 0]))


def _with_middles(view: PlaneView, columns: Mask, band: Lab, target: Mask) -> Mask:
    """Add columns (w,) between coils that differ from what both sides show beyond."""
    closed, beside = columns.copy(), max(int(BESIDE_MM * view.px_per_mm), 1)
    for left, right in pairwise(runs_of(columns)):
        middle = slice(int(left[-1]) + 1, int(right[0]))
        if middle.stop - middle.start > MIDDLE_MM * view.px_per_mm:
            continue
        before = slice(max(int(left[0]) - 2 * beside, 0), max(int(left[0]) - beside, 0))
        after = slice(int(right[-1]) + beside, int(right[-1]) + 2 * beside)
        inner = np.median(band[:, middle], axis=1)
        outer = [
            np.median(band[:, each], axis=1)
            for each in (before, after)
            if band[:, each].size and not target[each].any()
        ]
        apart = [np.linalg.norm(inner - each, axis=1) for each in outer]
        if apart and min(float(np.median(each)) for each in apart) > UNLIKE_LAB:
            closed[middle] = True
    return closed


def runs_of(filled: Mask) -> list[NDArray[np.intp]]:
    """Give the places of each unbroken run of a mask (w,)."""
    spans = label(filled)
    return [np.flatnonzero(spans == number) for number in range(1, spans.max() + 1)]


def _swing(level: NDArray[np.float32], plain: Mask) -> float:
    """By how much a column must go up or down to count: well above texture."""
    usual = np.quantile(level[:, plain].std(axis=0), QUIETEST)
    return float(np.clip(NOISE_SWINGS * usual, LEAST_SWING_LAB, MOST_SWING_LAB))


def _noise_swing(view: PlaneView, level: NDArray[np.float32]) -> float:
    """By how much the target's own faces go up and down: dark ink is noisy in L*."""
    apart = max(int(NOISE_MM * view.px_per_mm), 1)
    if level.size == 0 or len(level) <= apart:
        return LEAST_SWING_LAB
    change = np.median(np.abs(level[apart:] - level[:-apart]), axis=1)
    noise = median_filter(change, int(EDGE_MM * view.px_per_mm)).max()
    swing = NOISE_SWINGS_AT_TARGET * 1.4826 * noise / np.sqrt(2.0)
    return float(max(swing, LEAST_SWING_LAB))


def _count_turns(
    level: NDArray[np.float32],
    swing: NDArray[np.float64],
    rows: int,
    pitch: float,
) -> tuple[Counts, Counts]:
    """Swings within the first ``rows``, and the last row that swings follow to."""
    level, width = np.ascontiguousarray(level), level.shape[1]
    low, high = level[0].copy(), level[0].copy()
    way = np.zeros(width, dtype=np.int8)
    count, last = np.zeros((2, width), dtype=np.intp)
    for row, values in enumerate(level):
        np.minimum(low, values, out=low)
        np.maximum(high, values, out=high)
        up = (way <= 0) & (values > low + swing)
        down = (way >= 0) & (values < high - swing) & ~up
        turned = np.flatnonzero(up | down)
        if turned.size == 0:
            continue
        way[turned] = np.where(up[turned], 1, -1)
        low[turned] = high[turned] = values[turned]
        count[turned] += row < rows
        near = turned[row - last[turned] < pitch]
        last[near] = row
    return count, last


def count_turns(level: NDArray[np.float32], swing: float) -> Counts:
    """How often each column (w,) goes up or down by ``swing`` or more."""
    swings = np.full(level.shape[1], swing)
    return _count_turns(level, swings, len(level), float(len(level)))[0]
