"""Compose: find the boards, check the set, fit, check the fit."""

from collections.abc import Iterable

import cv2
import numpy as np

from calib.errors import LensError
from calib.lens.checks import PHOTOS, check_fit, check_views
from calib.lens.fitting import Fit, fit_views
from calib.lens.views import Board, View, check_board, see_board
from calib.records import Exif, Lens, Photo

MOST_NAMES = 3  # that one sentence bears
# The solver's threads add in any order, and the last digits of a float change from run
# to run: values are kept to a thousandth of their u, and u to four digits.
FINER, U_DIGITS = 1e-3, 4
LEAST_STEP = 1e-12


def solve_lens(
    photos: Iterable[Photo], columns: int, rows: int, pitch_mm: float
) -> Lens:
    """Solve a camera's own geometry from photos of a chessboard.

    One focal length for both axes, centre, k1 and k2. Tangential terms and k3 stay
    zero; what they would move is in u. Focus is part of the focal length: the lens
    holds for springs that stand about as far away as the board did.

    Parameters
    ----------
    photos
        Taken one by one, so that they need not be in memory together.
    columns, rows
        Inner corners, where four squares meet.
    pitch_mm
        Side of a square; it does not change the lens.

    Raises
    ------
    LensError
        When the photos are too few, too alike or mixed, or do not fit one lens.
    """
    board = Board(columns=columns, rows=rows, pitch_mm=pitch_mm)
    check_board(board)
    views = _see_all(photos, board)
    check_views(views)
    try:
        fit = fit_views(views, board)
    except cv2.error as fault:
        raise LensError(
            PHOTOS,
            "do not lead to a lens at all",
            "Check the count of inner corners, and tilt the board in every photo",
        ) from fault
    check_fit(fit, views)
    return _as_lens(fit, views)


def _as_lens(fit: Fit, views: list[View]) -> Lens:
    first = views[0]
    u = [_rounded(value, U_DIGITS) for value in fit.u]
    values = [
        _rounded_to(value, FINER * own)
        for value, own in zip(fit.values, fit.u, strict=True)
    ]
    return Lens(
        camera=_camera(first.exif),
        size_px=first.size_px,
        focal_px=values[0],
        focal_u_px=u[0],
        centre_px=(values[1], values[2]),
        centre_u_px=max(u[1], u[2]),
        k1=values[3],
        k1_u=u[3],
        k2=values[4],
        k2_u=u[4],
        rms_px=_rounded(fit.rms_px, U_DIGITS),
        views=len(views),
        focal_length_mm=first.exif.focal_length_mm,
    )


def _see_all(photos: Iterable[Photo], board: Board) -> list[View]:
    views: list[View] = []
    missed: list[str] = []
    for photo in photos:
        view = see_board(photo, board)
        if view is None:
            missed.append(photo.name)
        else:
            views.append(view)
    if missed:
        raise LensError(
            _listed(missed),
            f"no chessboard of {board.columns} x {board.rows} inner corners is found",
            "Show the whole board with a white border, count the points where four "
            "squares meet, or leave the photo out",
        )
    return views


def _rounded_to(value: float, step: float) -> float:
    """Round to the power of ten below a step: what is finer differs from run to run."""
    return round(float(value), -int(np.floor(np.log10(max(step, LEAST_STEP)))))


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def _listed(names: list[str]) -> str:
    more = len(names) - MOST_NAMES
    return ", ".join(names[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def _camera(exif: Exif) -> str:
    make, model = exif.make or "", exif.model or ""
    if make and model.lower().startswith(make.lower()):
        return model
    return f"{make} {model}".strip() or "unknown camera"
