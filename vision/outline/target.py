"""The columns that the target takes of the view: no spring is measured there."""

import numpy as np
from numpy.typing import NDArray

from calib.records import Calibration, SquareCard
from vision.outline.plane import PlaneView

GUARD_MM = 1.5
PAPER_SIGMAS = 9.0  # from the backdrop, beyond which paper is seen before it
LEAST_PAPER = 0.3  # share of the margin's pixels that must be seen as paper

Mask = NDArray[np.bool_]


def target_columns(view: PlaneView, calibration: Calibration, *, present: bool) -> Mask:
    """Columns (w,) of the whole target, the paper of a card included."""
    if not present:
        return np.zeros(view.lab.shape[1], dtype=bool)
    left, _, right, _ = calibration.target_box_mm
    return _between(view, left, right)


def without_unseen_paper(
    view: PlaneView,
    calibration: Calibration,
    target: Mask,
    distance: NDArray[np.float32],
) -> Mask:
    """Give back the columns of a card's margins that look like the backdrop.

    Nothing tells there how far the paper reaches, and nothing disturbs a spring that
    stands before it or beside it.
    """
    shape = calibration.reference.shape
    if not isinstance(shape, SquareCard) or not target.any():
        return target
    left, _, right, top = calibration.target_box_mm
    kept = target.copy()
    rows = slice(max(int(view.row(top)), 0), int(view.row(0.0)))
    for ends in ((left, 0.0), (shape.side_mm, right)):
        strip = _between(view, *ends) & ~_between(view, 0.0, shape.side_mm)
        part = distance[rows, strip]
        if part.size and float((part > PAPER_SIGMAS).mean()) < LEAST_PAPER:
            kept &= ~strip
    return kept


def _between(view: PlaneView, left_mm: float, right_mm: float) -> Mask:
    columns = np.zeros(view.lab.shape[1], dtype=bool)
    if right_mm > left_mm:
        first = max(int(view.column(left_mm - GUARD_MM)), 0)
        columns[first : max(int(view.column(right_mm + GUARD_MM)) + 1, 0)] = True
    return columns
