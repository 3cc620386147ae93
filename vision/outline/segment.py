"""What stands there: blobs that differ from the backdrop and rise from the plate."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.filters import apply_hysteresis_threshold
from skimage.measure import label, regionprops

from calib.runs import peaks
from vision.outline.coils import LEAST_SWING_LAB, count_turns
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
    view: PlaneView, distance: NDArray[np.float32], excluded: Mask
) -> tuple[Candidate, ...]:
    """Standing things left to right; ``excluded`` (w,) columns hold the target."""
    raw = apply_hysteresis_threshold(distance, POSSIBLE, SURE) & ~excluded[None]
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
    fault = None
    if _lies(view.lab[row0 : int(view.row(1.0)), column0:column1, 0]):
        pieces, fault = [(column0, column1)], Reason.FALLEN
    else:
        pieces = _part(raw & here, box, view, doubled=doubled)
        fault = Reason.TOUCHES if len(pieces) > 1 else None
    return [_candidate(view, here, raw, piece, fault) for piece in pieces]


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
    spans, least = label(full[None], connectivity=1)[0], MIN_WIDTH_MM * view.px_per_mm
    pieces = []
    for number in range(1, int(spans.max()) + 1):
        columns = np.flatnonzero(spans == number)
        if len(columns) >= least:
            pieces.append((column0 + int(columns[0]), column0 + int(columns[-1]) + 1))
    return pieces


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
    if _is_cut_off(view, own, span, top_row):
        fault = Reason.CUT_OFF
    return Candidate(
        left_mm=view.left_mm + first / view.px_per_mm,
        right_mm=view.left_mm + last / view.px_per_mm,
        top_mm=view.top_mm - top_row / view.px_per_mm,
        mask=own,
        fault=fault,
    )


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
