"""Exact outlines of swept helices seen through a pinhole, for tests.

The wire is the union of balls of its radius along a helix. A point of its surface lies
on the outline where the ray to it grazes the surface there and misses every other ball;
no small angle, no polygon and no pixel is involved.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import Camera, EdgePoints, Floats
from tests.vision.spring.places import seen

Mask = NDArray[np.bool_]

STEPS_PER_TURN = 240
CLOSEST_MM = 0.04  # between neighbouring points of an outline
MOST_BETWEEN = 200
TIP_THICKNESS = 0.25  # of the wire, left at the tip of a ground end (common practice)
END_TURNS, RAMP_TURNS = 1.0, 0.5
GRAZE_MM = 1e-6
HIDDEN_MM = 0.003  # by which another part of the wire must lie before a point
NUDGE = 1e-4  # of a turn, to differentiate


@dataclass(frozen=True, slots=True, kw_only=True)
class Helix:
    """A spring with closed and ground ends; ``azimuth_rad`` is where the lower tip is.

    A ``broken`` one ends above in the open, at the pitch between its coils.

    ``slope_x`` and ``slope_y`` are the lean's tangents along the row and away.
    """

    height_mm: float = 48.0
    outside_mm: float = 31.2
    top_outside_mm: float = 31.2
    wire_mm: float = 4.0
    turns: float = 6.5
    slope_x: float = 0.0
    slope_y: float = 0.0
    foot_x_mm: float = 0.0
    foot_y_mm: float = 0.0
    azimuth_rad: float = 0.4
    hand: int = 1
    broken: bool = False

    def radius_at(self, z_mm: Floats | float) -> Floats:
        """Outside radius at heights, along the line between the end coils."""
        low, high = self.wire_mm / 2, self.height_mm - self.wire_mm / 2
        share = np.clip((np.asarray(z_mm) - low) / (high - low), 0.0, 1.0)
        narrower = self.outside_mm - self.top_outside_mm
        return np.asarray((self.outside_mm - share * narrower) / 2)

    @property
    def top_centre_mm(self) -> Floats:
        """Where the axis meets the plane of the top end."""
        return np.array(
            [
                self.foot_x_mm + self.slope_x * self.height_mm,
                self.foot_y_mm + self.slope_y * self.height_mm,
                self.height_mm,
            ]
        )


def even_turns(helix: Helix) -> Floats:
    """Turns from the lower tip, evenly spaced."""
    return np.linspace(0.0, helix.turns, int(helix.turns * STEPS_PER_TURN) + 1)


def centre_line(helix: Helix, turns: Floats) -> Floats:
    """The wire's centre line (n, 3): closed end turns, even pitch between."""
    tip = (TIP_THICKNESS - 0.5) * helix.wire_mm
    table = np.linspace(0.0, helix.turns, 20001)
    share = ramp(table - END_TURNS)
    if not helix.broken:
        share = share * ramp(helix.turns - END_TURNS - table)
    run = np.concatenate([[0.0], np.cumsum((share[1:] + share[:-1]) / 2)])
    upper = helix.wire_mm / 2 if helix.broken else tip
    open_mm = helix.height_mm - tip - upper - helix.wire_mm * helix.turns
    raised = np.interp(turns, table, run / run[-1])
    z = tip + helix.wire_mm * turns + open_mm * raised
    mean = helix.radius_at(z) - helix.wire_mm / 2
    angle = helix.azimuth_rad + helix.hand * 2 * np.pi * turns
    x = helix.foot_x_mm + helix.slope_x * z + mean * np.cos(angle)
    y = helix.foot_y_mm + helix.slope_y * z + mean * np.sin(angle)
    return np.column_stack([x, y, z])


def ramp(turns: Floats) -> Floats:
    """Rise smoothly from 0 to 1 over the ramp's turns."""
    share = np.clip(turns / RAMP_TURNS, 0.0, 1.0)
    return np.asarray(share * share * (3 - 2 * share))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """Grazing points (n, 3) of a wire, their outward normals and places on the wire.

    ``turns`` (n,) counts from the lower tip, ``branch`` (n,) is which of both grazing
    points there.
    """

    points_mm: Floats
    normals: Floats
    turns: Floats
    branch: NDArray[np.int64]


def grazing_points(helix: Helix, camera: Camera) -> Contour:
    """Both grazing points all along the wire, hidden ones too, closely spaced.

    Seen nearly along itself, a wire turns its grazing points fast: there more places
    are put between.
    """
    turns = even_turns(helix)
    rough = graze(helix, camera, turns, 0), graze(helix, camera, turns, 1)
    step = np.max(
        [np.linalg.norm(np.diff(each.points_mm, axis=0), axis=1) for each in rough],
        axis=0,
    )
    between = np.clip(step / CLOSEST_MM, 1, MOST_BETWEEN).astype(int)
    starts = np.repeat(turns[:-1], between)
    share = np.concatenate([np.arange(each) / each for each in between])
    fine = starts + share * np.repeat(np.diff(turns), between)
    return joined(graze(helix, camera, fine, 0), graze(helix, camera, fine, 1))


def graze(helix: Helix, camera: Camera, turns: Floats, branch: int) -> Contour:
    """One of both grazing points at each place of the wire.

    With n across the wire, n . (C + r n - P) = 0: a cos + b sin = -r.
    """
    line, radius = centre_line(helix, turns), helix.wire_mm / 2
    ahead = centre_line(helix, turns + NUDGE) - centre_line(helix, turns - NUDGE)
    tangent = ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
    one = np.cross(tangent, [0.0, 0.0, 1.0])
    one /= np.linalg.norm(one, axis=1, keepdims=True)
    two = np.cross(tangent, one)
    away = line - camera.position_mm
    a, b = (one * away).sum(axis=1), (two * away).sum(axis=1)
    spread = np.arccos(np.clip(-radius / np.hypot(a, b), -1, 1))
    angle = (np.arctan2(b, a) + (1 - 2 * branch) * spread)[:, None]
    normals = np.cos(angle) * one + np.sin(angle) * two
    return Contour(
        points_mm=line + radius * normals,
        normals=normals,
        turns=turns,
        branch=np.full(len(turns), branch),
    )


def joined(one: Contour, two: Contour) -> Contour:
    return Contour(
        points_mm=np.vstack([one.points_mm, two.points_mm]),
        normals=np.vstack([one.normals, two.normals]),
        turns=np.concatenate([one.turns, two.turns]),
        branch=np.concatenate([one.branch, two.branch]),
    )


def chosen(contour: Contour, mask: Mask) -> Contour:
    return Contour(
        points_mm=contour.points_mm[mask],
        normals=contour.normals[mask],
        turns=contour.turns[mask],
        branch=contour.branch[mask],
    )


def between_ends(helix: Helix, contour: Contour) -> Contour:
    """What the cutting planes of both ends leave."""
    z = contour.points_mm[:, 2]
    return chosen(contour, (z > GRAZE_MM) & (z < helix.height_mm - GRAZE_MM))


def unhidden(helix: Helix, camera: Camera, contour: Contour) -> Mask:
    """Which points no other part of the wire hides."""
    line = centre_line(helix, even_turns(helix)[::4])
    rays = contour.points_mm - camera.position_mm
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    away = line - camera.position_mm
    far2 = (away**2).sum(axis=1)[None] - (rays @ away.T) ** 2
    return np.asarray((far2 > (helix.wire_mm / 2 - HIDDEN_MM) ** 2).all(axis=1))


def picture_normals(camera: Camera, normals: Floats) -> Floats:
    """Outward unit normals (n, 2) in the picture of grazing planes' normals."""
    flat = (normals @ camera.rotation.T)[:, :2]
    return np.asarray(flat / np.linalg.norm(flat, axis=1, keepdims=True))


def end_edges(helix: Helix) -> list[Floats]:
    """Polylines (n, 3) of the top end: the flat's outer and inner edge, before noise.

    The wire's section at the cutting plane: half its width is sqrt(r^2 - h^2), h the
    height of the wire's centre over the plane.
    """
    line = centre_line(helix, np.linspace(helix.turns - 1.5, helix.turns, 1501))
    axis = helix.top_centre_mm
    over = line[:, 2] - helix.height_mm
    radius = helix.wire_mm / 2
    cut = over > -radius
    half = np.sqrt(radius**2 - over[cut] ** 2)
    beside = line[cut, :2] - axis[:2]
    unit = beside / np.linalg.norm(beside, axis=1, keepdims=True)
    edges = []
    for sign in (1, -1):
        flat = axis[:2] + beside + sign * half[:, None] * unit
        edges.append(np.column_stack([flat, np.full(len(flat), helix.height_mm)]))
    return edges


def upper_outline(
    camera: Camera, polylines: list[Floats], axes: Floats, origin_px: Floats
) -> Floats:
    """Highest picture points (n, 2), one per px along, of polylines (m, 3) in mm."""
    local = [(seen(camera, each) - origin_px) @ axes.T for each in polylines]
    low = min(each[:, 0].min() for each in local)
    high = max(each[:, 0].max() for each in local)
    along = np.arange(np.ceil(low), np.floor(high) + 1)
    level = np.full(len(along), -np.inf)
    for each in local:
        (x0, y0), (x1, y1) = each[:-1].T[:, :, None], each[1:].T[:, :, None]
        over = (np.minimum(x0, x1) <= along) & (along < np.maximum(x0, x1))
        run = np.where(x1 == x0, 1.0, x1 - x0)
        up = np.where(over, y0 + (along - x0) * (y1 - y0) / run, -np.inf)
        level = np.maximum(level, up.max(axis=0))
    sound = np.isfinite(level)
    return np.asarray(origin_px + np.column_stack([along, level])[sound] @ axes)


def edge_points(points_px: Floats, normals: Floats, u_px: float = 0.05) -> EdgePoints:
    """Edge points as located in a sound picture."""
    count = len(points_px)
    return EdgePoints(
        points_px=points_px,
        normals=normals,
        blur_px=np.full(count, 1.0),
        inside=np.full(count, 0.1),
        outside=np.full(count, 0.8),
        u_px=np.full(count, u_px),
        spread_px2=np.zeros(count),
    )
