"""Where springs stand: blobs that differ from the backdrop and show coils.

A blob says where wire is, columns of coils say that it is a spring. Blobs without coils
are other things and passed over; coils without a blob are springs that are hidden or
melt into the backdrop, and named so.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.signal import find_peaks
from skimage.filters import apply_hysteresis_threshold
from skimage.measure import label, regionprops

from vision.outline.coils import LEAST_SWING_LAB, Coils, count_turns
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
WIDER = 1.4  # times the usual width: perhaps two springs
SMOOTH_MM = 1.5
VALLEY = 0.12  # share of a column by which a valley lies below both its hills
DEEP_VALLEY = 0.45  # of the usual column: two springs, whatever is usual
NECK = 0.3  # a column this empty, beside full ones, parts two touching springs
BESIDE_MM = 2.0  # of a blob: its own outermost arcs
HIDDEN_WIDTH_MM = 5.0  # what a target leaves to be seen of a spring
LEAST_COILS = 0.35  # share of a spring's columns that show coils
TURNS_LYING = 5  # swings along the plate of a spring that lies on it
ABOVE_COILS_MM = 8.0  # the last turn lies at most a thick wire below the top
BELOW_COILS_MM = 4.0

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
    """Standing springs left to right; ``excluded`` (w,) columns hold the target."""
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
    springs = [
        _checked(view, each, excluded, coils)
        for each in found
        if _is_spring(view, each, coils)
    ]
    springs += name_unseen(view, springs, excluded, coils)
    return tuple(sorted(springs, key=lambda each: each.left_mm))
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
    doubled = wide > WIDER * min(usual_px, float(row1 - row0))
    pieces = _part(raw & here, box, view, doubled=doubled)
    return [
        _candidate(view, here, raw, piece, touching=len(pieces) > 1) for piece in pieces
    ]


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
    valleys, _ = find_peaks(-smooth, prominence=min(VALLEY, deep) if doubled else deep)
    full[valleys] = False
    spans, least = label(full[None], connectivity=1)[0], MIN_WIDTH_MM * view.px_per_mm
    pieces = []
    for number in range(1, int(spans.max()) + 1):
        columns = np.flatnonzero(spans == number)
        if len(columns) >= least:
            pieces.append((column0 + int(columns[0]), column0 + int(columns[-1]) + 1))
    return pieces


def _candidate(
    view: PlaneView, here: Mask, raw: Mask, span: tuple[int, int], *, touching: bool
) -> Candidate:
    first, last = span
    own = np.zeros_like(here)
    own[:, first:last] = here[:, first:last]
    middle = own[:, first + (last - first) // 5 : last - (last - first) // 5]
    tops = middle.argmax(axis=0)[middle.any(axis=0)]
    top_row = float(np.median(tops))
    floor = int(view.row(0.0))
    own[int(top_row) : floor, first:last] |= raw[int(top_row) : floor, first:last]
    fault = _fault(view, own, span, top_row)
    if fault is None and touching:
        fault = Reason.TOUCHES
    return Candidate(
        left_mm=view.left_mm + first / view.px_per_mm,
        right_mm=view.left_mm + last / view.px_per_mm,
        top_mm=view.top_mm - top_row / view.px_per_mm,
        mask=own,
        fault=fault,
    )


def _fault(
    view: PlaneView, own: Mask, span: tuple[int, int], top_row: float
) -> Reason | None:
    first, last = span
    floor = min(int(view.row(1.0)), own.shape[0] - 1)
    margin = EDGE_OF_PICTURE_PX
    seen = view.seen[max(int(top_row) - margin, 0) : floor, :]
    around = seen[:, max(first - margin, 0) : last + margin]
    touches_frame = first < margin or last > own.shape[1] - margin
    if touches_frame or top_row < margin or not around.all():
        return Reason.CUT_OFF
    if _lies(view.lab[int(top_row) : floor, first:last, 0]):
        return Reason.FALLEN
    return None


def _lies(body: NDArray[np.float32]) -> bool:
    """Tell coils that follow one another along the plate, not upward."""
    body = np.ascontiguousarray(body)
    across = float(np.abs(cv2.Scharr(body, cv2.CV_32F, 1, 0)).mean())
    along = float(np.abs(cv2.Scharr(body, cv2.CV_32F, 0, 1)).mean())
    if across <= FALLEN_SLOPE * max(along, 1e-6):
        return False
    turns = count_turns(body.T, LEAST_SWING_LAB)
    return float(np.median(turns)) >= TURNS_LYING


def _columns_of(view: PlaneView, each: Candidate) -> slice:
    first, last = view.column(each.left_mm), view.column(each.right_mm)
    return slice(max(round(first), 0), max(round(last), round(first) + 1))


def _is_spring(view: PlaneView, each: Candidate, coils: Coils) -> bool:
    """Tell a spring, standing or fallen, from other things that stand there."""
    columns = coils.columns[_columns_of(view, each)]
    return each.fault is Reason.FALLEN or float(columns.mean()) > LEAST_COILS


def _checked(
    view: PlaneView, each: Candidate, excluded: Mask, coils: Coils
) -> Candidate:
    """Hold a blob's edges against the coils and the target beside them."""
    columns = _columns_of(view, each)
    near = slice(max(columns.start - 2, 0), columns.stop + 2)
    if each.fault not in (Reason.CUT_OFF, Reason.FALLEN) and excluded[near].any():
        return replace(each, fault=Reason.HIDDEN)
    turned = coils.top_mm[columns][coils.columns[columns]]
    if each.fault is not None or len(turned) == 0:
        return each
    usual, top = (float(level) for level in np.quantile(turned, (0.5, 0.9)))
    if _coils_above(view, each, usual):
        return replace(each, fault=Reason.GLARE)
    if each.top_mm > top + ABOVE_COILS_MM:
        mask = each.mask.copy()
        mask[: int(view.row(top + BELOW_COILS_MM))] = False
        return replace(each, mask=mask, top_mm=top)
    return each


def _coils_above(view: PlaneView, each: Candidate, coils_top_mm: float) -> bool:
    """Tell whether the picture shows a coil above a blob; one edge is no coil."""
    rows = slice(
        max(int(view.row(coils_top_mm + 1.0)), 0), int(view.row(each.top_mm + 1.0))
    )
    if coils_top_mm < each.top_mm + BELOW_COILS_MM:
        return False
    turns = count_turns(view.lab[rows, _columns_of(view, each), 0], LEAST_SWING_LAB)
    return float(np.median(turns)) > 1.0


def name_unseen(
    view: PlaneView, springs: list[Candidate], excluded: Mask, coils: Coils
) -> list[Candidate]:
    """Give coils that no blob accounts for, and why: hidden, cut off or melted."""
    left = coils.columns.copy()
    beside = round(BESIDE_MM * view.px_per_mm)
    for each in springs:
        columns = _columns_of(view, each)
        start, stop = max(columns.start - beside, 0), columns.stop + beside
        left[start:stop] = False
        if each.fault is Reason.HIDDEN:  # what is left of its coils is its own
            spans = label(coils.columns)
            left[np.isin(spans, np.unique(spans[start:stop])[1:])] = False
    spans, found = label(left), []
    for number in range(1, int(spans.max()) + 1):
        columns = np.flatnonzero(spans == number)
        first, last = int(columns[0]), int(columns[-1]) + 1
        hidden = bool(excluded[max(first - beside, 0) : last + beside].any())
        top = float(np.median(coils.top_mm[first:last]))
        least = HIDDEN_WIDTH_MM if hidden else MIN_WIDTH_MM
        if last - first < least * view.px_per_mm or top < MIN_HEIGHT_MM:
            continue
        cut = not view.seen[:, [max(first - beside, 0), min(last + beside, len(left)) - 1]].any(axis=0).all()
        fault = Reason.HIDDEN if hidden else Reason.CUT_OFF if cut else Reason.GLARE
        found.append(
            Candidate(
                left_mm=view.left_mm + first / view.px_per_mm,
                right_mm=view.left_mm + last / view.px_per_mm,
                top_mm=top,
                mask=np.zeros(view.seen.shape, dtype=bool),
                fault=fault,
            )
        )
    return found
