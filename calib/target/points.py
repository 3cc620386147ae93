"""A settled target in, the sub-pixel edge points of its sides out."""

from dataclasses import dataclass, replace

import numpy as np

from calib.edge import EdgeSettings, fit_edges
from calib.records import EdgePoints, Floats, Side
from calib.target.level import Level, on_level, seen_in
from calib.target.settle import Settled
from calib.target.strip import Line, Strip

# Two colours of one luminance part in a channel: a side of which its own grey shows
# less than the first share is looked for in each, and taken if seen by the second.
FAINT_SHARE, CLEAR_SHARE = 0.25, 0.6
WAYS = tuple((channel, brightens) for channel in range(3) for brightens in (1, -1))
STEP_PX = 4.0
MOST_POINTS = 72
ROWS = 5  # fitted together; the side is straight
HALF_LENGTH_PX = 4.0
CORNER_PX = 8.0  # kept clear of corners, where two edges blur into one
CORNER_SHARE = 0.03
LEAST_CONTRAST = 0.006
LEAST_CONTRAST_TO_NOISE = 2.5
MOST_RESIDUAL = 0.35  # strays drop out later, by the side's own line
MOST_BLUR_PX = 8.0  # enough to say how blurred a photo is


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SidePoints:
    """Edge points of one side of the model, and their place -1..1 along it."""

    side: int
    points: EdgePoints
    along: Floats
    tried: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Where a side's edge points are looked for, n places from corner to corner.

    ``rough_px`` (n, 2) photo px, ``normals`` (n, 2), ``along`` (n,) -1..1.
    """

    rough_px: Floats
    normals: Floats
    along: Floats


def locate_sides(settled: Settled, level: Level) -> tuple[SidePoints, ...]:
    """Locate edge points along each chosen line, in photo px."""
    sides = []
    for k, line in enumerate(settled.choice.lines):
        if line is not None:
            sides.append(_locate_side(k, settled.strips[k], line, level))
    return tuple(side for side in sides if len(side.along))


def _locate_side(k: int, strip: Strip, line: Line, level: Level) -> SidePoints:
    length_px = float(np.hypot(*(strip.points_px[-1] - strip.points_px[0])))
    length_px /= float(np.ptp(strip.along)) / 2.0
    most = 1.0 - 2.0 * max(CORNER_PX / length_px, CORNER_SHARE)
    count = int(np.clip(most * length_px / STEP_PX, 12, MOST_POINTS))
    along = np.linspace(-most, most, count)
    rough = np.column_stack(
        [np.interp(along, strip.along, strip.points_px[:, j]) for j in range(2)]
    )
    normals = np.column_stack(
        [np.interp(along, strip.along, strip.normals[:, j]) for j in range(2)]
    )
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    rough += (line.offset_px + line.tilt_px * along)[:, None] * normals
    spots = Spots(rough_px=rough, normals=normals, along=along)
    seen = _points_in(k, spots, level, (line.channel, line.brightens))
    if len(seen.along) >= FAINT_SHARE * count:
        return seen
    tries = [_points_in(k, spots, level, way) for way in WAYS]
    clearest = max(tries, key=lambda each: len(each.along))
    return clearest if len(clearest.along) >= CLEAR_SHARE * count else seen


def _points_in(
    k: int, spots: Spots, level: Level, way: tuple[int | None, int]
) -> SidePoints:
    """Locate a side's edge points in one grey, all of them steps of one sign."""
    channel, brightens = way
    settings = EdgeSettings(
        polarity=brightens,
        rows=ROWS,
        least_contrast=LEAST_CONTRAST,
        least_contrast_to_noise=LEAST_CONTRAST_TO_NOISE,
        most_blur_px=MOST_BLUR_PX,
        most_residual=MOST_RESIDUAL,
    )
    grey, rough = seen_in(level, channel), on_level(level, spots.rough_px)
    found, kept = fit_edges(grey, rough, spots.normals, HALF_LENGTH_PX, settings)
    points = replace(found, points_px=found.points_px + level.origin_px)
    return SidePoints(
        side=k, points=points, along=spots.along[kept], tried=len(spots.along)
    )


def kept_sides(
    sides: tuple[SidePoints, ...], weight: Floats, names: tuple[str, ...]
) -> tuple[Side, ...]:
    """Give the sides as records, without the points that the fit left out."""
    kept, start = [], 0
    for each in sides:
        mine = weight[start : start + len(each.along)] > 0.0
        start += len(each.along)
        kept.append(Side(name=names[each.side], points=each.points.chosen(mine)))
    return tuple(kept)
