"""Edge points of a flank in, those of each coil's round end looked at squarely out.

A contour that was smoothed to find its normals cuts corners at the round ends of coils.
Once an end is known as a circle of the wire's radius, its edge is looked for along the
circle's own radii: further round, at right angles, and free of what lies between coils.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats
from calib.runs import split_runs
from vision.outline.close import Close
from vision.outline.ends import Ends, fill_in, follow_flank, half_turns
from vision.outline.seek import seek_edges

LEAST_POINTS = 7
ROUND_MM = (0.8, 16.0)  # diameters of ends: wire seen from above looks thicker
WIDEST_DEG = 65.0  # how far round an end its edge is looked for
OUTER, INNER = 0.8, 0.7  # how far around a circle, in radii
UNLIKE = 1.5  # times the usual radius: how far ends of one flank differ
ALIKE = 0.15  # u of an end's radius about the expected one, as a share
ROUNDS = 3
STEPS = 5  # of the circle fit
HUBER_PX = 0.4
LEAST_SURE = 1.0  # radian of ends in all that show a flank's own radius
LEAST_TURN = 0.7  # radian of an end that must be seen
MOST_TURN = np.radians(2 * WIDEST_DEG)
NEAREST = 1.4  # radii of the wire from end to end: two coils touch at two
OFF_PX = 1.5  # edges farther off their circle are another thing's

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """One coil's end as looked at: its circle, how far round it was seen, its edges."""

    centre_px: Floats
    radius_px: float
    turned: float
    edges: EdgePoints


def look_round(
    close: Close, axis_px: Floats, flanks: tuple[EdgePoints, EdgePoints]
) -> tuple[EdgePoints, EdgePoints]:
    """Look again for the edges of the left and the right flank, end by end.

    ``axis_px`` (2, 2) is foot and top in the close look's px, as are the flanks. A
    flank whose ends cannot be told is given back as it came.
    """
    up = axis_px[1] - axis_px[0]
    up = up / np.linalg.norm(up)
    right = np.array([-up[1], up[0]])
    right = right * np.sign(right[0] or 1.0)
    sides = (-right, right)
    ends = [
        _find_ends(flank, outward, up, close.px_per_mm)
        for flank, outward in zip(flanks, sides, strict=True)
    ]
    found = flanks
    reach = axis_px @ up
    for _ in range(ROUNDS):
        usual = _usual_radius(ends, up)
        if usual is None:
            return flanks
        pitch = _usual_pitch(ends, up, usual)
        own = [_usual_radius([each], up, LEAST_SURE) or usual for each in ends]
        ends = _guessed(ends, flanks, up, own, (pitch, reach))
        looked = [
            _look_at(close, each, up, radius, NEAREST * min(own))
            for each, radius in zip(ends, own, strict=True)
        ]
        ends = [end for end, _ in looked]
        found = (looked[0][1], looked[1][1])
    return found


def _guessed(
    ends: list[Ends],
    flanks: tuple[EdgePoints, EdgePoints],
    up: Floats,
    own_px: list[float],
    run_px: tuple[float, Floats],
) -> list[Ends]:
    """Add to each flank's ends where others may be, told by both flanks."""
    filled = []
    for side, (flank, radius) in enumerate(zip(flanks, own_px, strict=True)):
        between = half_turns(ends[1 - side], up, run_px[0])
        line = follow_flank(ends[side], flank, up, radius)
        filled.append(fill_in(ends[side], up, radius, run_px, between, line))
    return filled


def _usual_radius(ends: list[Ends], up: Floats, least: float = 0.0) -> float | None:
    """Usual radius in px, those ends counting most that were seen farthest round.

    None where fewer than ``least`` radian of ends were seen in all. Seen from above,
    ends are rounder on one flank than on the other, by the hand of winding. The
    highest of several ends is the ground one, thinner than the wire.
    """
    whole = [_without_highest(each, up) for each in ends]
    radii = np.concatenate([each.radii_px for each in whole])
    turned = np.concatenate([each.turned for each in whole])
    if len(radii) == 0 or turned.sum() <= least:
        return None
    order = np.argsort(radii)
    weight = np.cumsum(np.minimum(turned[order], MOST_TURN) ** 2)
    return float(radii[order][np.searchsorted(weight, weight[-1] / 2)])


def _without_highest(ends: Ends, up: Floats) -> Ends:
    """Leave out the highest of several ends."""
    height = ends.centres_px @ up
    if len(height) < 2:  # noqa: PLR2004 - the only one is left
        return ends
    return ends.chosen(height < height.max())


def _usual_pitch(ends: list[Ends], up: Floats, usual_px: float) -> float:
    """Rise of a turn in px; coils do not lie in one another."""
    gaps = [np.diff(np.sort(each.centres_px @ up)) for each in ends]
    pitch = float(np.median(np.concatenate([*gaps, [2 * usual_px]])))
    return max(pitch, 2 * usual_px)


def _find_ends(
    flank: EdgePoints, outward: Floats, up: Floats, px_per_mm: float
) -> Ends:
    """Split a flank at the notches between coils and fit a circle to each part."""
    height = flank.points_px @ up
    order = np.argsort(height)
    points, normals = flank.points_px[order], flank.normals[order]
    centres, radii, turned = [], [], []
    for run in split_runs(points @ outward, height[order], LEAST_POINTS):
        if len(run) < LEAST_POINTS:
            continue
        sine = normals[run] @ up
        seen = float(np.ptp(np.arcsin(np.clip(sine, -1, 1))))
        centre, radius = _fit_circle(points[run], normals[run], None)
        if ROUND_MM[0] < 2 * radius / px_per_mm < ROUND_MM[1]:
            centres.append(centre)
            radii.append(radius)
            turned.append(seen)
    return Ends(
        outward=outward,
        centres_px=np.array(centres).reshape(-1, 2),
        radii_px=np.array(radii),
        turned=np.array(turned),
    )


def _fit_circle(
    points: Floats, normals: Floats, usual_px: float | None
) -> tuple[Floats, float]:
    """Fit a circle robustly, near ``usual_px`` in radius where points leave it open.

    Begins where the normals meet.
    """
    turn = normals - normals.mean(axis=0)
    radius = usual_px or float(np.sum(points * turn) / max(np.sum(turn**2), 1e-9))
    centre = np.median(points - radius * normals, axis=0)
    for _ in range(STEPS):
        away = points - centre
        far = np.maximum(np.linalg.norm(away, axis=1), 1e-6)
        rest = far - radius
        weight = np.minimum(1.0, HUBER_PX / np.maximum(np.abs(rest), 1e-9))
        design = np.column_stack([away / far[:, None], np.ones(len(points))])
        normal = (design * weight[:, None]).T @ design + 1e-6 * np.eye(3)
        pull = design.T @ (weight * rest)
        if usual_px is not None:
            stiff = HUBER_PX**2 / (ALIKE * usual_px) ** 2 * len(points) / 10
            normal[2, 2] += stiff
            pull[2] += stiff * (usual_px - radius)
        move = np.linalg.solve(normal, pull)
        centre, radius = centre + move[:2], radius + float(move[2])
    return centre, radius


def _look_at(
    close: Close, ends: Ends, up: Floats, usual_px: float, nearest_px: float
) -> tuple[Ends, EdgePoints]:
    """Look for edges round every end; those without, or too near another, go."""
    angle = np.radians(WIDEST_DEG)
    turns = np.arange(-angle, angle, 1.0 / usual_px)
    rays = np.cos(turns)[:, None] * ends.outward + np.sin(turns)[:, None] * up
    count = len(ends.centres_px)
    radii = np.clip(ends.radii_px, usual_px / UNLIKE, usual_px * UNLIKE)
    starts = ends.centres_px[:, None] + radii[:, None, None] * rays[None]
    edges, kept = seek_edges(
        close,
        starts.reshape(-1, 2),
        np.tile(rays, (count, 1)),
        OUTER * usual_px,
        INNER * usual_px,
    )
    owner = np.repeat(np.arange(count), len(turns))[kept]
    looked = [
        _seen_end(edges.chosen(owner == number), float(radii[number]))
        for number in range(count)
    ]
    best = sorted(
        (each for each in looked if each is not None), key=lambda each: -each.turned
    )
    apart: list[End] = []
    for end in best:
        gaps = [np.linalg.norm(end.centre_px - other.centre_px) for other in apart]
        if min(gaps, default=np.inf) > nearest_px:
            apart.append(end)
    found = Ends(
        outward=ends.outward,
        centres_px=np.array([each.centre_px for each in apart]).reshape(-1, 2),
        radii_px=np.array([each.radius_px for each in apart]),
        turned=np.array([each.turned for each in apart]),
    )
    none = edges.chosen(np.zeros(0, dtype=np.int64))
    return found, EdgePoints.joined([none, *(each.edges for each in apart)])


def _seen_end(own: EdgePoints, usual_px: float) -> End | None:
    """Judge the edges found around one end; None where they make no end."""
    if len(own.u_px) < LEAST_POINTS:
        return None
    centre, radius = _fit_circle(own.points_px, own.normals, usual_px)
    off = np.abs(np.linalg.norm(own.points_px - centre, axis=1) - radius)
    sound = own.chosen(off < OFF_PX)
    turned = len(sound.u_px) / usual_px
    if len(sound.u_px) < LEAST_POINTS or turned < LEAST_TURN:
        return None
    return End(centre_px=centre, radius_px=radius, turned=turned, edges=sound)
