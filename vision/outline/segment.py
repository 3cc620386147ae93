"""What stands there: blobs that differ from the backdrop and rise from the plate."""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.filters import apply_hysteresis_threshold
from skimage.measure import label, regionprops

from calib.runs import peaks
from vision.outline.coils import LEAST_SWING_LAB, Coils, count_turns, runs_of
from vision.outline.plane import PlaneView
from vision.records.measured import Reason

SURE, POSSIBLE = 9.0, 4.0  # backdrop sigmas: certainly not backdrop, perhaps not
CLEAR_OF_PLATE_MM = 5.0  # shadows and plate edges join what stands below this
COIL_GAP_MM = 13.0  # backdrop seen between coils is part of the spring
MIN_WIDTH_MM, MIN_HEIGHT_MM = 8.0, 6.0  # above the band near the plate
FOOT_WITHIN_MM = 8.0  # a standing thing reaches down to here
FALLEN_SLOPE = 0.9  # detail across / detail along the height; coils lie flat
EDGE_OF_PICTURE_PX = 2
SET = 3  # blobs that show what width is usual
WIDER = 1.4  # times the usual width, or wider than high: perhaps two springs
SMOOTH_MM = 1.5
VALLEY = 0.12  # share of a column by which a valley lies below both its hills
DEEP_VALLEY = 0.45  # of the usual column: two springs, whatever is usual
NECK = 0.3  # a column this empty, beside full ones, parts two touching springs
ABOVE_COILS_MM = 8.0  # the last turn lies at most a thick wire below the top
BESIDE_MM = 2.0  # of coils: their own outermost arcs
UPPER = 0.6  # of a thing's height: no shadow on the plate behind reaches so high
CLEAR_MM, CLEAR_FILL = 1.0, 0.04  # columns this empty up there part two springs
BROADER = 0.12  # share of its width by which a spring's foot may stand out below
BULGE_MM = 1.0  # above the middle of a spring's top: what rises farther is looked at
MOST_RISE_MM = 4.0  # from there on: an end coil that nobody ground, leaning
TURNS_LYING = 5  # swings along the plate of a spring that lies on it

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """Something that stands on the plate: its extent in mm and its own mask.

    ``mask`` (h, w) lies in the whole plane view; ``fault`` says why not to measure it.
    """

    left_mm: float
    right_mm: float
    top_mm: float
    mask: Mask
    fault: Reason | None = None


def find_candidates(
    view: PlaneView, distance: NDArray[np.float32], excluded: Mask, coils: Coils
) -> tuple[Candidate, ...]:
    """Standing things left to right; ``excluded`` (w,) columns hold the target.

    What rises far above coils stands behind them: a stripe of the backdrop.
    """
    raw = apply_hysteresis_threshold(distance, POSSIBLE, SURE) & ~excluded[None]
    raw &= np.arange(len(raw))[:, None] >= _ceiling(view, coils)[None]
    reach = int(COIL_GAP_MM * view.px_per_mm) | 1
    solid = cv2.morphologyEx(
        raw.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((reach, 1), np.uint8)
    )
    solid = cv2.morphologyEx(solid, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    above = solid.copy()
    above[int(view.row(CLEAR_OF_PLATE_MM)) :] = 0
    regions = [
        each
        for each in regionprops(label(above, connectivity=1))
        if _stands(view, each.bbox)
    ]
    widths = [each.bbox[3] - each.bbox[1] for each in regions]
    usual = float(np.median(widths)) if len(widths) >= SET else np.inf
    found: list[Candidate] = []
    for region in regions:
        found.extend(_standing(view, raw, region.bbox, region.image, usual))
    return tuple(sorted(found, key=lambda each: each.left_mm))


def _ceiling(view: PlaneView, coils: Coils) -> NDArray[np.float64]:
    """Row (w,) above which nothing belongs to the coils of a column or beside it."""
    ceiling = np.zeros(len(coils.columns))
    beside = round(BESIDE_MM * view.px_per_mm)
    for columns in runs_of(coils.columns):
        top = float(np.quantile(coils.top_mm[columns], 0.9)) + ABOVE_COILS_MM
        near = slice(max(columns[0] - beside, 0), columns[-1] + beside + 1)
        ceiling[near] = view.row(top)
    return ceiling


def _stands(view: PlaneView, box: tuple[int, int, int, int]) -> bool:
    """Tell a thing that is large enough and reaches down to the plate."""
    row0, column0, row1, column1 = box
    tall_mm = (row1 - row0) / view.px_per_mm
    wide_mm = (column1 - column0) / view.px_per_mm
    low_mm = view.top_mm - row1 / view.px_per_mm
    return (
        tall_mm >= MIN_HEIGHT_MM
        and wide_mm >= MIN_WIDTH_MM
        and low_mm <= FOOT_WITHIN_MM
    )


def _standing(
    view: PlaneView,
    raw: Mask,
    box: tuple[int, int, int, int],
    image: Mask,
    usual_px: float,
) -> list[Candidate]:
    row0, column0, row1, column1 = box
    here = np.zeros(raw.shape, dtype=bool)
    here[row0:row1, column0:column1] = image
    wide = column1 - column0
    doubled = wide > min(WIDER * usual_px, view.row(0.0) - row0)
    if _lies(view.lab[row0 : int(view.row(1.0)), column0:column1, 0]):
        return [_candidate(view, here, raw, (column0, column1), Reason.FALLEN)]
    pieces = _part(raw & here, box, view, doubled=doubled)
    upper = _upper_fill(raw & here, box, view)
    pieces = [part for piece in pieces for part in _parted(view, upper, piece)]
    found = []
    for number, piece in enumerate(pieces):
        beside = pieces[max(number - 1, 0) : number + 2]
        touches = any(
            _touch(view, upper, piece, other) for other in beside if other != piece
        )
        span = piece if touches else _without_shadow(view, upper, piece)
        fault = Reason.TOUCHES if touches else None
        found.append(_candidate(view, here, raw, span, fault))
    return found


def _upper_fill(
    raw: Mask, box: tuple[int, int, int, int], view: PlaneView
) -> NDArray[np.float64]:
    """Share (w,) of the upper part of a thing's height that is filled."""
    row0 = box[0]
    floor = max(int(view.row(0.0)), row0 + 1)
    above = raw[row0 : row0 + round(UPPER * (floor - row0))]
    return np.asarray(above.mean(axis=0))


def _parted(
    view: PlaneView, upper: NDArray[np.float64], span: tuple[int, int]
) -> list[tuple[int, int]]:
    """Part what is joined low down only, in the middle of the clear columns."""
    filled = upper[span[0] : span[1]] >= CLEAR_FILL
    gap = max(int(CLEAR_MM * view.px_per_mm), 1)
    closed = cv2.morphologyEx(
        filled.astype(np.uint8)[None], cv2.MORPH_CLOSE, np.ones((1, gap))
    )
    least = MIN_WIDTH_MM * view.px_per_mm
    runs = [columns for columns in runs_of(closed[0] > 0) if len(columns) >= least]
    cuts = [(int(one[-1]) + int(other[0]) + 1) // 2 for one, other in pairwise(runs)]
    edges = [span[0], *(span[0] + cut for cut in cuts), span[1]]
    return list(pairwise(edges))


def _touch(
    view: PlaneView,
    upper: NDArray[np.float64],
    one: tuple[int, int],
    other: tuple[int, int],
) -> bool:
    """Tell springs that meet from those that a shadow on the plate joins."""
    first, last = (sum(span) // 2 for span in sorted((one, other)))
    clear = label(upper[first:last] < CLEAR_FILL)
    widest = int(np.bincount(clear)[1:].max(initial=0))
    return widest < CLEAR_MM * view.px_per_mm


def _without_shadow(
    view: PlaneView, upper: NDArray[np.float64], span: tuple[int, int]
) -> tuple[int, int]:
    """Narrow a spring's columns to those of its upper part, and a broader foot's."""
    filled = span[0] + np.flatnonzero(upper[span[0] : span[1]] >= CLEAR_FILL)
    if len(filled) == 0:
        return span
    wide = int(filled[-1] - filled[0]) + 1
    if wide < MIN_WIDTH_MM * view.px_per_mm:
        return span
    more = round(max(BESIDE_MM * view.px_per_mm, BROADER * wide))
    return max(int(filled[0]) - more, span[0]), min(int(filled[-1]) + more + 1, span[1])


def _part(
    raw: Mask, box: tuple[int, int, int, int], view: PlaneView, *, doubled: bool
) -> list[tuple[int, int]]:
    """Column spans of the springs in one blob.

    Empty columns part springs. In a blob as wide as two, so does a valley between two
    fuller middles: a standing spring fills its middle columns most.
    """
    row0, column0, row1, column1 = box
    fill = raw[row0:row1, column0:column1].mean(axis=0)
    smooth = ndimage.uniform_filter1d(fill, max(int(SMOOTH_MM * view.px_per_mm), 1))
    full = smooth > NECK * float(np.median(smooth))
    deep = DEEP_VALLEY * float(np.median(smooth))
    full[peaks(-smooth, min(VALLEY, deep) if doubled else deep)] = False
    least = MIN_WIDTH_MM * view.px_per_mm
    return [
        (column0 + int(columns[0]), column0 + int(columns[-1]) + 1)
        for columns in runs_of(full)
        if len(columns) >= least
    ]


def _candidate(
    view: PlaneView,
    here: Mask,
    raw: Mask,
    span: tuple[int, int],
    fault: Reason | None,
) -> Candidate:
    first, last = span
    own = np.zeros_like(here)
    own[:, first:last] = here[:, first:last]
    middle = own[:, first + (last - first) // 5 : last - (last - first) // 5]
    tops = middle.argmax(axis=0)[middle.any(axis=0)]
    top_row = float(np.median(tops))
    floor = int(view.row(0.0))
    own[int(top_row) : floor, first:last] |= raw[int(top_row) : floor, first:last]
    _cut_standing_out(view, own[:, first:last], top_row)
    if _is_cut_off(view, own, span, top_row):
        fault = Reason.CUT_OFF
    return Candidate(
        left_mm=view.left_mm + first / view.px_per_mm,
        right_mm=view.left_mm + last / view.px_per_mm,
        top_mm=view.top_mm - top_row / view.px_per_mm,
        mask=own,
        fault=fault,
    )


def _cut_standing_out(view: PlaneView, own: Mask, top_row: float) -> None:
    """Cut from a mask (h, w) what rises above a spring's top as no end coil does.

    An end coil's rise is low and broad; a seam, a cable or a stripe of the backdrop
    goes on upward.
    """
    above = own[: max(int(top_row - BULGE_MM * view.px_per_mm), 0)]
    if above.size == 0:  # the view ends at the top
        return
    rising = label(above, connectivity=1)
    for each in regionprops(rising):
        row0, column0, row1, column1 = each.bbox
        if row1 - row0 > min(column1 - column0, MOST_RISE_MM * view.px_per_mm):
            above[rising == each.label] = False


def _is_cut_off(
    view: PlaneView, own: Mask, span: tuple[int, int], top_row: float
) -> bool:
    first, last = span
    floor = min(int(view.row(1.0)), own.shape[0] - 1)
    margin = EDGE_OF_PICTURE_PX
    seen = view.seen[max(int(top_row) - margin, 0) : floor, :]
    around = seen[:, max(first - margin, 0) : last + margin]
    touches_frame = first < margin or last > own.shape[1] - margin
    return bool(touches_frame or top_row < margin or not around.all())


def _lies(body: NDArray[np.float32]) -> bool:
    """Tell coils that follow one another along the plate, not upward."""
    body = np.ascontiguousarray(body)
    across = float(np.abs(cv2.Scharr(body, cv2.CV_32F, 1, 0)).mean())
    along = float(np.abs(cv2.Scharr(body, cv2.CV_32F, 0, 1)).mean())
    if across <= FALLEN_SLOPE * max(along, 1e-6):
        return False
    turns = count_turns(body.T, LEAST_SWING_LAB)
    return float(np.median(turns)) >= TURNS_LYING
