"""Corners in many views -> focal length, centre and distortion, by least squares."""

from dataclasses import dataclass

import cv2
import numpy as np

from calib.lens.views import Board, View, board_points
from calib.records import Floats

# One focal length, k1 and k2: the camera model of calib.records.Camera.
PLAIN = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
FURTHER = (  # one term more each: tangential, k3
    cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_K3,
    cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST,
)
SIGNIFICANT = 2.0  # standard deviations from zero, about 95 %
GROUPS = 12  # of views left out in turn; more cost time and change little
FURTHER_VALUES = slice(6, 9)  # p1, p2, k3
TINY = 1e-12  # a term that is fixed at zero has no deviation
VALUES = (1, 2, 3, 4, 5)  # where fy, cx, cy, k1, k2 stand among the solver's deviations


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Parameters (focal_px, centre x and y, k1, k2), their u, and how well they fit.

    ``further_sigmas`` is how significant the best of p1, p2, k3 is; ``normals``
    (views, 3) are the boards' normals in camera axes.
    """

    values: Floats
    u: Floats
    rms_px: float
    rms_of_views_px: Floats
    further_sigmas: float
    normals: Floats


def fit_views(views: list[View], board: Board) -> Fit:
    """Solve and find u from three sources.

    Noise, as the solver states it; the scatter when groups of views are left out in
    turn (delete-a-group jackknife), which also holds what noise does not: a board that
    is not flat, corners off together. The greater counts. Then what the values move by
    when tangential terms or k3 are let free and prove significant: the model's fault.
    """
    plain = _solve(views, board, PLAIN)
    u = np.maximum(plain.u, _jackknife(views, board))
    for flags in FURTHER:
        wider = _solve(views, board, flags)
        if wider.further_sigmas > SIGNIFICANT:
            u = np.hypot(u, wider.values - plain.values)
    return Fit(
        values=plain.values,
        u=u,
        rms_px=plain.rms_px,
        rms_of_views_px=plain.rms_of_views_px,
        further_sigmas=plain.further_sigmas,
        normals=plain.normals,
    )


def _jackknife(views: list[View], board: Board) -> Floats:
    """Give the standard errors: sqrt((g - 1)/g sum (theta_i - mean)^2)."""
    groups = min(len(views), GROUPS)
    kept = (
        [view for at, view in enumerate(views) if at % groups != left]
        for left in range(groups)
    )
    values = np.array([_solve(part, board, PLAIN).values for part in kept])
    squares = np.sum((values - values.mean(axis=0)) ** 2, axis=0)
    errors: Floats = np.sqrt((groups - 1) / groups * squares)
    return errors


def _solve(views: list[View], board: Board, flags: int) -> Fit:
    points = [board_points(board)] * len(views)
    corners = [view.corners_px.astype(np.float32)[:, None] for view in views]
    rms, matrix, terms, turns, _, deviations, _, per_view = cv2.calibrateCameraExtended(
        points, corners, views[0].size_px, np.eye(3), np.zeros(5), flags=flags
    )
    p1, p2, k3 = np.abs(np.ravel(terms)[2:5])
    sigmas = np.ravel(deviations).astype(np.float64)
    ratios = np.array((p1, p2, k3)) / np.maximum(sigmas[FURTHER_VALUES], TINY)
    return Fit(
        values=np.array((matrix[1, 1], *matrix[:2, 2], *np.ravel(terms)[:2])),
        u=sigmas[list(VALUES)],
        rms_px=float(rms),
        rms_of_views_px=np.ravel(per_view),
        further_sigmas=float(ratios.max()),
        normals=np.array([cv2.Rodrigues(turn)[0][:, 2] for turn in turns]),
    )
