"""Blobs and coils in, the springs among them out, each with what speaks against it.

A blob says where wire is, columns of coils say that it is a spring's. Blobs without
coils are other things and passed over; coils without a blob are springs that are hidden
or melt into the backdrop, and named so.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from skimage.measure import label

from vision.outline.coils import LEAST_SWING_LAB, Coils, count_turns, runs_of
from vision.outline.plane import PlaneView
from vision.outline.segment import (
    ABOVE_COILS_MM,
    BESIDE_MM,
    MIN_HEIGHT_MM,
    MIN_WIDTH_MM,
    Candidate,
)
from vision.records.measured import Reason

HIDDEN_WIDTH_MM = 5.0  # what a target leaves to be seen of a spring
LEAST_COILS = 0.35  # share of a spring's columns that show coils
BELOW_COILS_MM = 4.0
SHADOW = 0.5  # of a spring's height: lower turns beside it are its shadow's

Mask = NDArray[np.bool_]


def choose_springs(
    view: PlaneView, blobs: tuple[Candidate, ...], target: Mask, coils: Coils
) -> tuple[Candidate, ...]:
    """Springs left to right; ``target`` (w,) are the columns where none is measured."""
    springs = [
        _checked(view, each, target, coils)
        for each in blobs
        if _is_spring(view, each, coils)
    ]
    springs += _unseen(view, springs, target, coils)
    return tuple(sorted(springs, key=lambda each: each.left_mm))


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


def _unseen(
    view: PlaneView, springs: list[Candidate], excluded: Mask, coils: Coils
) -> list[Candidate]:
    """Give coils that no blob accounts for, and why: hidden, cut off or melted."""
    left = _left_over(view, springs, coils)
    beside, found = round(BESIDE_MM * view.px_per_mm), []
    for columns in runs_of(left):
        first, last = int(columns[0]), int(columns[-1]) + 1
        near = slice(max(first - beside, 0), last + beside)
        hidden = bool(excluded[near].any())
        top = float(np.median(coils.top_mm[first:last]))
        least = HIDDEN_WIDTH_MM if hidden else MIN_WIDTH_MM
        if last - first < least * view.px_per_mm or top < MIN_HEIGHT_MM:
            continue
        cut = near.start == 0 or near.stop > len(left)
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


def _left_over(view: PlaneView, springs: list[Candidate], coils: Coils) -> Mask:
    """Columns (w,) of coils that belong to none of the springs."""
    left, runs = coils.columns.copy(), label(coils.columns)
    beside = round(BESIDE_MM * view.px_per_mm)
    for each in springs:
        own = _columns_of(view, each)
        around = slice(max(own.start - beside, 0), own.stop + beside)
        left[around] = False
        low = coils.top_mm < SHADOW * each.top_mm
        left[low & np.isin(runs, np.setdiff1d(runs[around], [0]))] = False
        if each.fault is Reason.HIDDEN:  # what is left of its coils is its own
            left[np.isin(runs, np.setdiff1d(runs[around], [0]))] = False
    return left
