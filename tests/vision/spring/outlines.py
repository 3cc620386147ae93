"""Outlines of exact helices as the outline stage would hand them on, for tests."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from calib.records import Camera, EdgePoints, Floats
from tests.vision.spring.helix import (
    Contour,
    Helix,
    between_ends,
    chosen,
    edge_points,
    end_edges,
    grazing_points,
    picture_normals,
    unhidden,
    upper_outline,
)
from tests.vision.spring.places import Place, make_camera, seen
from vision.records.measured import Outline
from vision.spring.flank import Coils
from vision.spring.inward import inward_of

# Of the light that exact edges are given.
INWARD = inward_of(edge_points(np.zeros((1, 2)), np.ones((1, 2))), blown=0.0)
FLANK, BESIDE = 0.6, 0.5  # least share of the normal across, least share of half width
SPACING_PX = 1.0
ALIKE = 4  # neighbouring edge points with one error
GAP_MM = 0.5  # between neighbouring points: cut away there
LAST_TURNS = 1.3  # of the wire that can show beside the flat
TOP_BAND_MM = 1.6  # below its highest edge, in which a top's edges lie


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A spring's foot and top in the picture, and the unit axes along and up."""

    foot_px: Floats
    top_px: Floats
    axes: Floats


def frame_of(helix: Helix, camera: Camera) -> Frame:
    foot, top = seen(
        camera,
        np.array([[helix.foot_x_mm, helix.foot_y_mm, 0.0], helix.top_centre_mm]),
    )
    up = (top - foot) / np.linalg.norm(top - foot)
    right = np.array([-up[1], up[0]])
    return Frame(foot_px=foot, top_px=top, axes=np.vstack([right, up]))


def flank_of(helix: Helix, camera: Camera, contour: Contour, side: int) -> Contour:
    """The points of one flank (-1 left, +1 right) that nothing hides."""
    frame = frame_of(helix, camera)
    at = (seen(camera, contour.points_mm) - frame.foot_px) @ frame.axes.T
    facing = side * (picture_normals(camera, contour.normals) @ frame.axes[0])
    beside = BESIDE * np.abs(at[:, 0]).max()
    flank = chosen(contour, (facing > FLANK) & (side * at[:, 0] > beside))
    return chosen(flank, unhidden(helix, camera, flank))


def flank_edges(camera: Camera, flank: Contour) -> EdgePoints:
    """Edge points of one flank, foot to top, about a pixel apart.

    They lie where a picture shows a bright round wire's edge: a little farther in.
    """
    points = seen(camera, flank.points_mm)
    normals = picture_normals(camera, flank.normals)
    kept: list[int] = []
    for each in np.argsort(-points[:, 1]):
        if not kept or np.hypot(*(points[each] - points[kept[-1]])) > SPACING_PX:
            kept.append(int(each))
    outward = normals.mean(axis=0) / np.linalg.norm(normals.mean(axis=0))
    located = points - INWARD.px * outward
    return edge_points(located[kept], normals[kept])


def top_edges(helix: Helix, camera: Camera, polylines: list[Floats]) -> EdgePoints:
    """Edge points of the top from polylines (n, 3) of the end."""
    frame = frame_of(helix, camera)
    points = upper_outline(camera, polylines, frame.axes, frame.top_px)
    return edge_points(points, np.tile(frame.axes[1], (len(points), 1)))


@cache
def make_outline(helix: Helix, place: Place, position: int = 1) -> Outline:
    """Lay out the exact edge points of a ground spring as seen from a place."""
    return outline_by(helix, make_camera(place), position)


def outline_by(helix: Helix, camera: Camera, position: int = 1) -> Outline:
    """Lay out the exact edge points of a ground spring as seen by a camera."""
    contour = grazing_points(helix, camera)
    between = between_ends(helix, contour)
    frame = frame_of(helix, camera)
    whole = seen(camera, between.points_mm)
    low, high = whole.min(axis=0), whole.max(axis=0)
    ground = [] if helix.broken else end_edges(helix)
    crown = top_edges(helix, camera, [*ground, *_before_flat(helix, contour)])
    return Outline(
        position=position,
        box_px=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
        axis_px=np.array([frame.foot_px, frame.top_px]),
        top=_level_part(crown, camera, helix) if helix.broken else crown,
        crown=crown,
        left=flank_edges(camera, flank_of(helix, camera, between, -1)),
        right=flank_edges(camera, flank_of(helix, camera, between, 1)),
        foot=edge_points(np.zeros((0, 2)), np.zeros((0, 2))),
        contour_px=whole,
        colour=(0.1, 0.1, 0.1),
    )


def _level_part(crown: EdgePoints, camera: Camera, helix: Helix) -> EdgePoints:
    """Those edges that a level top may have, as the outline stage takes them."""
    frame = frame_of(helix, camera)
    up = (crown.points_px - frame.foot_px) @ frame.axes[1]
    tall = float((frame.top_px - frame.foot_px) @ frame.axes[1])
    return crown.chosen(up > up.max() - TOP_BAND_MM * tall / helix.height_mm)


def _before_flat(helix: Helix, contour: Contour) -> list[Floats]:
    """Grazing lines of the last turns where they lie below the cut."""
    last = contour.turns > helix.turns - LAST_TURNS
    below = contour.points_mm[:, 2] < helix.height_mm
    parts = []
    for branch in (0, 1):
        points = contour.points_mm[last & below & (contour.branch == branch)]
        gaps = np.linalg.norm(np.diff(points, axis=0), axis=1) > GAP_MM
        parts += np.split(points, np.flatnonzero(gaps) + 1)
    return [each for each in parts if len(each) > 1]


def round_end(helix: Helix, radius_mm: float, azimuths: Floats) -> list[Floats]:
    """Part of a round rim as a polyline in the plane of the top end."""
    flat = radius_mm * np.column_stack([np.cos(azimuths), np.sin(azimuths)])
    beside = np.column_stack([flat, np.zeros(len(flat))])
    return [helix.top_centre_mm + beside]


def with_top(
    outline: Outline, helix: Helix, place: Place, end: list[Floats]
) -> Outline:
    """The same spring with another top end."""
    return replace(outline, top=top_edges(helix, make_camera(place), end))


def noisy(outline: Outline, sigma_px: float, rng: np.random.Generator) -> Outline:
    """Move every edge point along its normal; neighbours in fours err alike.

    That is what the located edges of a developed and compressed picture do, and what
    the budget takes them to do.
    """
    return replace(
        outline,
        top=shaken(outline.top, sigma_px, rng),
        left=shaken(outline.left, sigma_px, rng),
        right=shaken(outline.right, sigma_px, rng),
    )


def shaken(points: EdgePoints, sigma_px: float, rng: np.random.Generator) -> EdgePoints:
    count = len(points.u_px)
    away = np.repeat(rng.standard_normal(count // ALIKE + 1), ALIKE)[:count]
    moved = points.points_px + sigma_px * away[:, None] * points.normals
    return replace(points, points_px=moved)


def some_coils(coils: Coils, which: slice) -> Coils:
    """Only some of a flank's coils, as where the rest is hidden or melts away."""
    return replace(
        coils,
        points_px=coils.points_px[which],
        radius_px=coils.radius_px[which],
        u_px=coils.u_px[which],
    )
