"""Photo and calibration in; one outline, or the reason for none, per standing thing."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.records import Calibration, EdgePoints, Floats, Photo
from vision.outline.arcs import look_round
from vision.outline.backdrop import (
    distance_from_backdrop,
    find_quiet_columns,
)
from vision.outline.choose import choose_springs
from vision.outline.close import Close, blown_share, look_close
from vision.outline.coils import find_coils
from vision.outline.contour import trace
from vision.outline.outermost import move_out
from vision.outline.plane import PlaneView, view_axis_plane
from vision.outline.segment import Candidate, find_candidates
from vision.outline.shade import free_of_shade
from vision.outline.target import target_columns, without_unseen_paper
from vision.records.measured import Outline, Reason, Unmeasured

LEAST_PX = 60  # a spring lower than this has no coils to speak of
LEAST_TOP, LEAST_FLANK = 12, 20  # edge points without which there is no shape
MOST_BLUR_PX = 3.5
TOP_BAND_MM = 1.6  # below the highest edge point
FOOT_BAND_MM = 2.5
RIM_MM = 1.6  # how far beyond a top's edge another may lie
FLANK, END = 0.6, 0.8  # least share of the normal across, and along the axis
BESIDE_BLURS = 4.0  # how far outside an edge the backdrop alone is seen
FACING = 0.25  # least share of the normal away from the axis
COLUMN_PX = 1.5  # wide columns hold an edge point of a level top each


def find_outlines(
    photo: Photo, calibration: Calibration, *, target_in_photo: bool
) -> tuple[Outline | Unmeasured, ...]:
    """Find springs left to right, as seen upright, and follow their edges."""
    view = view_axis_plane(photo, calibration)
    target = target_columns(view, calibration, present=target_in_photo)
    coils = find_coils(view, target, calibration.target_box_mm[3])
    quiet = find_quiet_columns(view, target, coils.columns)
    distance = distance_from_backdrop(view, quiet)
    target = without_unseen_paper(view, calibration, target, distance)
    blobs = find_candidates(view, distance, target, coils)
    candidates = choose_springs(view, blobs, target, coils)
    found: list[Outline | Unmeasured] = []
    for position, spring in enumerate(candidates, start=1):
        found.append(_outline(photo, calibration, view, spring, position))
    return tuple(found)


def _outline(
    photo: Photo,
    calibration: Calibration,
    view: PlaneView,
    spring: Candidate,
    position: int,
) -> Outline | Unmeasured:
    camera = calibration.camera
    middle = (spring.left_mm + spring.right_mm) / 2
    axis = project(camera, np.array([[middle, 0, 0], [middle, 0, spring.top_mm]]))
    box = _box(calibration, spring)
    if spring.fault is not None:
        return Unmeasured(position=position, reason=spring.fault, detail="", box_px=box)
    tall = float(np.linalg.norm(axis[1] - axis[0]))
    if tall < LEAST_PX:
        detail = f"{int(tall)} px high, {LEAST_PX} px needed"
        return Unmeasured(
            position=position, reason=Reason.TOO_SMALL, detail=detail, box_px=box
        )
    close = look_close(photo, calibration, view, spring)
    edges = trace(calibration, view, spring, close)
    outline = _sorted_edges(edges, axis - close.corner_px, spring, close, position)
    left, right = look_round(close, outline.axis_px, (outline.left, outline.right))
    top, left, right = free_of_shade(close, (outline.top, left, right))
    top = move_out(close, top, RIM_MM * close.px_per_mm)
    flanks = EdgePoints.joined([left, right])
    beside = flanks.points_px + BESIDE_BLURS * flanks.blur_px[:, None] * flanks.normals
    outline = replace(
        outline, top=top, left=left, right=right, blown=blown_share(close, beside)
    )
    outline = _moved(outline, close.corner_px)
    outline = replace(outline, box_px=box)
    return _refused(outline, calibration.blur_px) or outline


def _moved(outline: Outline, corner_px: Floats) -> Outline:
    """From px of the close look to px of the photo."""

    def moved(edges: EdgePoints) -> EdgePoints:
        return replace(edges, points_px=edges.points_px + corner_px)

    return replace(
        outline,
        axis_px=outline.axis_px + corner_px,
        top=moved(outline.top),
        crown=moved(outline.crown),
        left=moved(outline.left),
        right=moved(outline.right),
        foot=moved(outline.foot),
        contour_px=outline.contour_px + corner_px,
    )


def _box(
    calibration: Calibration, spring: Candidate
) -> tuple[float, float, float, float]:
    corners = np.array(
        [
            [x, 0.0, z]
            for x in (spring.left_mm, spring.right_mm)
            for z in (0.0, spring.top_mm)
        ]
    )
    px = project(calibration.camera, corners)
    (x0, y0), (x1, y1) = px.min(axis=0), px.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _sorted_edges(
    edges: EdgePoints, axis: Floats, spring: Candidate, close: Close, position: int
) -> Outline:
    up = axis[1] - axis[0]
    tall = float(np.linalg.norm(up))
    up = up / tall
    right = np.array([-up[1], up[0]])
    right = right * np.sign(right[0] or 1.0)
    from_foot = edges.points_px - axis[0]
    height, across = from_foot @ up, from_foot @ right
    along_normal, across_normal = edges.normals @ up, edges.normals @ right
    half = close.px_per_mm * (spring.right_mm - spring.left_mm) / 2
    highest = float(np.quantile(height, 0.98)) if len(height) else tall
    top = (along_normal > END) & (height > highest - TOP_BAND_MM * close.px_per_mm)
    top &= np.abs(across) < half
    flank = (height > 0.5 * close.px_per_mm) & (np.abs(across) > 0.5 * half)
    left = flank & (across_normal < -FLANK) & (across < 0)
    side = flank & (across_normal > FLANK) & (across > 0)
    foot = (along_normal < -FACING) & (height < FOOT_BAND_MM * close.px_per_mm)
    return Outline(
        position=position,
        box_px=(0.0, 0.0, 0.0, 0.0),
        axis_px=axis,
        top=edges.chosen(top),
        crown=edges.chosen(_uppermost(across, height) & (np.abs(across) < half)),
        left=edges.chosen(left),
        right=edges.chosen(side),
        foot=edges.chosen(foot),
        contour_px=edges.points_px,
        colour=close.colour,
    )


def _uppermost(across: Floats, height: Floats) -> NDArray[np.bool_]:
    """Tell the highest point (n,) of each column."""
    column = np.floor(across / COLUMN_PX)
    order = np.lexsort((height, column))
    highest = np.zeros(len(order), dtype=bool)
    highest[order[np.diff(column[order], append=np.inf) > 0]] = True
    return highest


def _refused(outline: Outline, usual_blur_px: float) -> Unmeasured | None:
    """Say why an outline tells too little.

    ``usual_blur_px`` is that of the target's edges: where a spring shows none of its
    own it tells whether they are blurred or melt into what is behind them.
    """
    counts = len(outline.top.u_px), len(outline.left.u_px), len(outline.right.u_px)
    few = counts[0] < LEAST_TOP or min(counts[1:]) < LEAST_FLANK
    blur = usual_blur_px
    if counts[0] >= LEAST_TOP:
        blur = float(np.median(outline.top.blur_px))
    if blur > MOST_BLUR_PX:
        detail = f"edges blurred over {blur:.1f} px, {MOST_BLUR_PX} px allowed"
        reason = Reason.BLURRED
    elif few:
        detail = (
            f"{counts[0]} edge points at the top, {counts[1]} left, {counts[2]} right"
        )
        reason = Reason.GLARE
    else:
        return None
    return Unmeasured(
        position=outline.position, reason=reason, detail=detail, box_px=outline.box_px
    )
