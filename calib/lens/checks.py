"""Chessboard photos that cannot give a lens are refused, and the user told why."""

from itertools import pairwise

import numpy as np

from calib.errors import LensError
from calib.lens.fitting import Fit
from calib.lens.views import View

PHOTOS = "chessboard photos"
LEAST_VIEWS = 5  # five poses: common practice is ten to twenty
LEAST_SPREAD_DEG = 20.0  # greatest angle between two boards
LEAST_COVER = 0.6  # of the picture's width and of its height
LARGEST_FOCAL_U = 0.01  # of the focal length; the camera's own record is as good as 2 %
LARGEST_RMS_PX, RMS_SIDE_SHARE = 0.5, 1 / 4000  # whichever is more, of the long side
ODD_VIEW = 3.0  # times the median rms of the views


def check_views(views: list[View]) -> None:
    """Refuse too few, repeated or mixed photos, and boards only in the middle."""
    if len(views) < LEAST_VIEWS:
        raise LensError(
            PHOTOS,
            f"only {len(views)}, and {LEAST_VIEWS} is the least",
            "Take ten to twenty, the board tilted another way in each",
        )
    _check_distinct(views)
    _check_one_camera(views)
    _check_cover(views)


def check_fit(fit: Fit, views: list[View]) -> None:
    """Refuse a fit that does not hold: views too alike, or corners that miss."""
    cosines = np.abs(fit.normals @ fit.normals.T)
    spread_deg = float(np.degrees(np.arccos(np.clip(cosines.min(), 0, 1))))
    if spread_deg < LEAST_SPREAD_DEG:
        _refuse_alike(
            f"the boards differ in tilt by {spread_deg:.0f}° at most, "
            f"and {LEAST_SPREAD_DEG:.0f}° is the least"
        )
    _check_rms(fit, views)
    share = float(fit.u[0] / fit.values[0])
    if not share <= LARGEST_FOCAL_U:
        _refuse_alike(
            f"the focal length is known to {share:.1%} (u), "
            f"and {LARGEST_FOCAL_U:.0%} is the limit"
        )


def _check_distinct(views: list[View]) -> None:
    ordered = sorted(views, key=lambda view: view.sha256)
    for first, second in pairwise(ordered):
        if first.sha256 == second.sha256:
            raise LensError(
                second.name, f"is the same picture as {first.name}", "Leave one out"
            )


def _check_one_camera(views: list[View]) -> None:
    first = views[0]
    for view in views[1:]:
        for what, here, there in zip(
            TRAITS, _traits(view), _traits(first), strict=True
        ):
            if here != there:
                raise LensError(
                    view.name,
                    f"has {what} {here}, and {first.name} has {there}",
                    "Use photos of one camera, zoom and size, none of them cropped",
                )


TRAITS = ("the size", "the camera", "the focal length", "the digital zoom")


def _traits(view: View) -> tuple[str, ...]:
    exif = view.exif
    focal_mm = exif.focal_length_mm
    return (
        f"{view.size_px[0]}x{view.size_px[1]} px",
        f"{exif.make or 'unknown'} {exif.model or 'model'}",
        "not recorded" if focal_mm is None else f"{focal_mm:g} mm",
        f"{exif.digital_zoom or 1:g}",
    )


def _check_cover(views: list[View]) -> None:
    corners = np.concatenate([view.corners_px for view in views])
    covered = np.ptp(corners, axis=0) / views[0].size_px
    if covered.min() < LEAST_COVER:
        raise LensError(
            PHOTOS,
            f"cover {covered[0]:.0%} of the width and {covered[1]:.0%} of the height, "
            f"and {LEAST_COVER:.0%} is the least",
            "Go nearer, and place the board near each border in some photos",
        )


def _check_rms(fit: Fit, views: list[View]) -> None:
    limit_px = max(LARGEST_RMS_PX, max(views[0].size_px) * RMS_SIDE_SHARE)
    worst = int(np.argmax(fit.rms_of_views_px))
    worst_px = float(fit.rms_of_views_px[worst])
    usual_px = float(np.median(fit.rms_of_views_px))
    if worst_px > ODD_VIEW * usual_px:
        raise LensError(
            views[worst].name,
            f"does not fit the others: its corners miss by {worst_px:.2f} px (rms), "
            f"theirs by {usual_px:.2f} px",
            "Leave it out, or take it again, sharp and with a flat board",
        )
    if not fit.rms_px <= limit_px:
        raise LensError(
            PHOTOS,
            f"do not fit one lens: corners miss by {fit.rms_px:.2f} px (rms), "
            f"and {limit_px:.2f} px is the limit",
            "Use a flat, stiff board, and a lens that is not a fisheye",
        )


def _refuse_alike(fault: str) -> None:
    raise LensError(
        PHOTOS,
        f"are too much alike: {fault}",
        "Tilt the board by 20° to 40° to the left, to the right, up and down",
    )
