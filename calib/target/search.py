"""A small copy of the photo and the target's edges in, likely places out.

Each place, size and roll is scored by how much of the outline lies on picture edges of
the right direction, every side counting alike however long or strong: a side that
melts into the backdrop, or hides behind a spring, costs its own share only.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.pose.model import TargetModel
from calib.pose.unknowns import pivot_of
from calib.records import Floats, Grey

SMALL_PX = 420  # long side of the copy
FINE_PX = 1000  # of a second copy, for a small target beside a long row
LEAST_EXTENT_PX = 22.0  # of the target in the copy
MOST_EXTENT = 0.95  # of the copy's own size
SIZE_STEP = 1.05
ROLLS_DEG = ((0.0,), (-3.5, 3.5), (-7.0, 7.0))
CLEAR_SCORE = 0.85  # after which no further roll is tried
ROLL_SLACK_DEG = 24.0  # of an edge's own direction
BLUR_PX = 0.9
USUAL_GRADIENT = 3.0  # grey levels per px at which an edge counts half
NOISE_GRADIENTS = 3.0  # the same, in typical gradients of the whole copy
REACH_PX = 2  # how far an outline may miss an edge
STRIDE = 2
INSIDE_COST = 0.5
PEAKS = 3
KEPT = 12
LEAST_SCORE = 0.30


Floating = NDArray[np.floating]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where a target may stand: its pivot in the photo, its scale, its roll."""

    model: TargetModel
    pivot_px: Floats
    px_per_mm: float
    roll_rad: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeSums:
    """Running sums of edge strength, padded by ``pad`` px on each side.

    ``upright`` runs down the columns and ``level`` along the rows; index 0 holds edges
    that brighten to the right or downward, 1 those that darken, 2 both. ``every`` is
    the integral image of all edges.
    """

    upright: tuple[Grey, Grey, Grey]
    level: tuple[Grey, Grey, Grey]
    every: Floats
    pad: int
    size: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One side at a certain scale, in px of the copy from the pivot."""

    upright: bool
    at: int
    begin: int
    end: int
    sign: int


def search_places(
    rgb: NDArray[np.uint8],
    full_px: tuple[int, int],
    models: tuple[TargetModel, ...],
    long_px: int = SMALL_PX,
) -> tuple[Place, ...]:
    """Give the likeliest places over all models in photo px, best first.

    ``rgb`` is the photo, or a copy of it; ``full_px`` the photo's size; the search runs
    in a copy whose long side is ``long_px``.
    """
    height, width = rgb.shape[:2]
    shrink = min(1.0, long_px / max(width, height))
    size = (max(round(width * shrink), 8), max(round(height * shrink), 8))
    copy = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    places: list[Place] = []
    for rolls in ROLLS_DEG:
        if any(place.score > CLEAR_SCORE for place in places):
            break
        for roll_deg in rolls:
            turn = _turning(size, roll_deg)
            turned = cv2.warpAffine(copy, turn, size, borderMode=cv2.BORDER_REPLICATE)
            sums = _sum_edges(np.asarray(turned, np.float32))
            back = _to_photo(turn, size, full_px)
            for model in models:
                places += _places_at(sums, model, back, roll_deg)
    return _distinct(places)


def _turning(size: tuple[int, int], roll_deg: float) -> Floats:
    """Give the affine map that turns a target of that roll upright."""
    middle = ((size[0] - 1) / 2.0, (size[1] - 1) / 2.0)
    return np.asarray(cv2.getRotationMatrix2D(middle, roll_deg, 1.0), np.float64)


def _to_photo(turn: Floats, size: tuple[int, int], full: tuple[int, int]) -> Floats:
    """Give the affine map from the turned copy back to the photo."""
    back = np.vstack([cv2.invertAffineTransform(turn), [0.0, 0.0, 1.0]])
    x, y = full[0] / size[0], full[1] / size[1]
    grow = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])
    whole: Floats = (grow @ back)[:2]
    return whole


def _sum_edges(copy: Grey) -> EdgeSums:
    """Turn gradients into strengths 0..1 and sum them along rows and columns."""
    soft = cv2.GaussianBlur(copy, (0, 0), BLUR_PX)
    right = cv2.Sobel(soft, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    down = cv2.Sobel(soft, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    strongest = np.argmax(right**2 + down**2, axis=2)[:, :, None]
    right, down = (
        np.take_along_axis(np.asarray(part, np.float32), strongest, axis=2)[:, :, 0]
        for part in (right, down)
    )
    steep = np.hypot(right, down)
    half = max(USUAL_GRADIENT, NOISE_GRADIENTS * float(np.median(steep)))
    strength = steep**2 / (steep**2 + half**2)
    slack = np.cos(np.radians(ROLL_SLACK_DEG))
    upright = strength * (np.abs(right) > slack * steep)
    level = strength * (np.abs(down) > slack * steep)
    pad = round(0.75 * max(copy.shape[:2]))
    widen_x = np.ones((1, 2 * REACH_PX + 1), np.uint8)
    return EdgeSums(
        upright=_signed_sums(upright, right, widen_x, pad, 0),
        level=_signed_sums(level, down, widen_x.T, pad, 1),
        every=np.pad(cv2.integral(strength), pad, mode="edge"),
        pad=pad,
        size=(copy.shape[1], copy.shape[0]),
    )


def _signed_sums(
    strength: Floating, slope: Floating, widen: NDArray[np.uint8], pad: int, axis: int
) -> tuple[Grey, Grey, Grey]:
    """Sum strengths along an axis for brightening, darkening and any edges."""
    parts = []
    for chosen in (slope > 0, slope < 0, slope != 0):
        wide = cv2.dilate((strength * chosen).astype(np.float32), widen)
        summed = np.cumsum(np.pad(wide, pad), axis=axis, dtype=np.float32)
        parts.append(summed)
    return parts[0], parts[1], parts[2]


def _places_at(
    sums: EdgeSums, model: TargetModel, back: Floats, roll_deg: float
) -> list[Place]:
    """Score all scales and positions of one model at one roll."""
    reach_mm = model.extent_mm
    biggest = MOST_EXTENT * min(sums.size[0] / reach_mm[0], sums.size[1] / reach_mm[1])
    scale = LEAST_EXTENT_PX / float(np.max(reach_mm))
    grow = float(np.hypot(*back[:, 0]))
    places = []
    while scale <= biggest:
        score = _score(sums, model, scale)
        apart = max(int(0.15 * scale * float(np.max(reach_mm))) // STRIDE, 2)
        for row, column, value in _peaks(score, apart):
            spot = np.array([column * STRIDE, row * STRIDE, 1.0])
            places.append(
                Place(
                    model=model,
                    pivot_px=back @ spot,
                    px_per_mm=scale * grow,
                    roll_rad=float(np.radians(roll_deg)),
                    score=value,
                )
            )
        scale *= SIZE_STEP
    return places


def _strokes(model: TargetModel, scale: float) -> tuple[Stroke, ...]:
    """Give the sides as rows and columns of px from the pivot."""
    pivot = pivot_of(model)[[0, 2]]
    strokes = []
    for side in model.sides:
        ends = np.array([end @ model.sizes_mm - pivot for end in side.ends])
        x, y = np.sort(ends[:, 0]) * scale, np.sort(-ends[:, 1]) * scale
        upright = bool(abs(side.outward[0]) > abs(side.outward[1]))
        along, at = (y, x[0]) if upright else (x, y[0])
        ahead = side.outward[0] if upright else -side.outward[1]
        strokes.append(
            Stroke(
                upright=upright,
                at=round(at),
                begin=round(along[0]),
                end=max(round(along[1]), round(along[0]) + 1),
                sign=int(np.sign(ahead)) * model.brighter_outside,
            )
        )
    return tuple(strokes)


def _score(sums: EdgeSums, model: TargetModel, scale: float) -> Grey:
    """Score every pivot on a grid of ``STRIDE`` px: mean support less inner clutter."""
    kinds = {1: 0, -1: 1, 0: 2}
    total: Floating | float = 0.0
    strokes = _strokes(model, scale)
    for stroke in strokes:
        if stroke.upright:
            run = sums.upright[kinds[stroke.sign]]
            later = _window(run, sums, stroke.at, stroke.end)
            sooner = _window(run, sums, stroke.at, stroke.begin)
        else:
            run = sums.level[kinds[stroke.sign]]
            later = _window(run, sums, stroke.end, stroke.at)
            sooner = _window(run, sums, stroke.begin, stroke.at)
        total = total + (later - sooner) / (stroke.end - stroke.begin)
    clutter: Floating | float = 0.0
    for x0, y0, x1, y1 in _inner_boxes(model, scale):
        inside = _window(sums.every, sums, x1, y1) - _window(sums.every, sums, x0, y1)
        inside = inside - _window(sums.every, sums, x1, y0)
        inside = inside + _window(sums.every, sums, x0, y0)
        clutter = clutter + inside / ((x1 - x0) * (y1 - y0)) / len(model.inner_mm)
    return np.asarray(total / len(strokes) - INSIDE_COST * clutter, np.float32)


def _inner_boxes(model: TargetModel, scale: float) -> list[tuple[int, int, int, int]]:
    """Give the boxes inside the target that should be plain, in px from the pivot."""
    pivot = pivot_of(model)[[0, 2]]
    boxes = []
    for x0, z0, x1, z1 in model.inner_mm:
        left, right = sorted(((x0 - pivot[0]) * scale, (x1 - pivot[0]) * scale))
        top, bottom = sorted(((pivot[1] - z0) * scale, (pivot[1] - z1) * scale))
        x, y = round(left), round(top)
        boxes.append((x, y, max(round(right), x + 1), max(round(bottom), y + 1)))
    return boxes


def _window(run: Grey | Floats, sums: EdgeSums, right: int, down: int) -> Grey:
    """Read a padded map at all pivots, so far to the right and down of them."""
    x, y = sums.pad + right, sums.pad + down
    width, height = sums.size
    return np.asarray(run[y : y + height : STRIDE, x : x + width : STRIDE])


def _peaks(score: Grey, apart: int) -> list[tuple[int, int, float]]:
    """Give the highest few scores that stand apart from one another."""
    score = score.copy()
    peaks = []
    for _ in range(PEAKS):
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        value = float(score[row, column])
        if value < LEAST_SCORE:
            break
        peaks.append((int(row), int(column), value))
        rows = slice(max(int(row) - apart, 0), int(row) + apart + 1)
        score[rows, max(int(column) - apart, 0) : int(column) + apart + 1] = -1.0
    return peaks


def _distinct(places: list[Place]) -> tuple[Place, ...]:
    """Keep the best of places that are nearly the same."""
    kept: list[Place] = []
    for place in sorted(places, key=lambda each: -each.score):
        if not any(_alike(place, other) for other in kept):
            kept.append(place)
        if len(kept) == KEPT:
            break
    return tuple(kept)


def _alike(one: Place, other: Place) -> bool:
    if one.model is not other.model:
        return False
    apart = float(np.hypot(*(one.pivot_px - other.pivot_px)))
    extent = float(np.max(one.model.extent_mm)) * one.px_per_mm
    grown = abs(np.log(one.px_per_mm / other.px_per_mm))
    return apart < 0.1 * extent and grown < 0.12  # noqa: PLR2004
