"""The photo in linear light at some size, and expected sides laid onto it."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.photo import linear_grey, linear_rgb
from calib.pose.lines import side_ends
from calib.pose.model import SideModel
from calib.pose.solve import Problem
from calib.pose.unknowns import camera_of
from calib.records import Camera, Floats, Grey, Photo
from calib.target.strip import Line, Strip, straight_edges

MIDDLE_PX = 1600  # long side of the copy in which a place is settled
END_SHARE = 0.94  # the ends of a side are left to its corners
PROFILES = (16, 110)
PROFILE_STEP_PX = 2.0
CLEAR_SUPPORT = 0.6  # share of a side; less may be a part, or another thing's edge


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """Linear luminance; ``shrink`` photo px are one here, ``origin_px`` lies at (0, 0).

    ``channels`` (h, w, 3) are linear R, G, B: two colours of one luminance part there.
    """

    grey: Grey
    channels: Grey
    shrink: float
    origin_px: Floats


def middle_copy(photo: Photo) -> NDArray[np.uint8]:
    """Give the whole photo, shrunk to a middling size and to 8 bits."""
    width, height = photo.size_px
    shrink = max(max(width, height) / MIDDLE_PX, 1.0)
    size = (max(round(width / shrink), 1), max(round(height / shrink), 1))
    small = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA)
    if small.dtype == np.uint16:
        small = small // 257
    return small.astype(np.uint8)


def middle_level(photo: Photo, copy: NDArray[np.uint8]) -> Level:
    """Give a copy of the whole photo in linear light."""
    small = replace(photo, rgb=copy)
    return Level(
        grey=linear_grey(small),
        channels=linear_rgb(small),
        shrink=photo.size_px[0] / copy.shape[1],
        origin_px=np.zeros(2),
    )


def full_level(photo: Photo, points_px: Floats, margin_px: float) -> Level:
    """Give the part of the photo round some points in its own size."""
    width, height = photo.size_px
    low = np.floor(points_px.min(axis=0) - margin_px)
    high = np.ceil(points_px.max(axis=0) + margin_px) + 1.0
    x0, y0 = np.clip(low, 0, (width - 1, height - 1)).astype(int)
    x1, y1 = np.clip(high, (x0 + 1, y0 + 1), (width, height)).astype(int)
    box = (int(x0), int(y0), int(x1), int(y1))
    return Level(
        grey=linear_grey(photo, box),
        channels=linear_rgb(photo, box),
        shrink=1.0,
        origin_px=np.array([x0, y0], dtype=np.float64),
    )


def seen_in(level: Level, channel: int | None) -> Grey:
    """Give the grey in which a line was seen: luminance (None) or a channel."""
    if channel is None:
        return level.grey
    return np.ascontiguousarray(level.channels[..., channel])


def on_level(level: Level, points_px: Floats) -> Floats:
    """Give photo points in px of the level."""
    moved: Floats = (points_px - level.origin_px + 0.5) / level.shrink - 0.5
    return moved


def expected_strips(
    problem: Problem, theta: Floats, reach_px: float, tilt_share: float
) -> tuple[Strip, ...]:
    """Lay a strip along each side as the present pose shows it, in photo px.

    ``tilt_share`` is how far a side's end may lie off, per half its length.
    """
    camera = camera_of(theta, problem.priors)
    ends = side_ends(theta, problem.model)
    return tuple(
        _strip(camera, (first, last), side.outward, (reach_px, tilt_share))
        for first, last, side in zip(*ends, problem.model.sides, strict=True)
    )


def joint_strip(
    problem: Problem, theta: Floats, joint: SideModel, reach: tuple[float, float]
) -> Strip:
    """Lay a strip along the joint of blade and stock, on the blade's face."""
    model = problem.model
    flat = np.array([end @ model.sizes_mm for end in joint.ends])
    y = np.full(2, model.face_y_mm)
    first, last = np.column_stack([flat[:, 0], y, flat[:, 1]])
    return _strip(camera_of(theta, problem.priors), (first, last), joint.outward, reach)


def _strip(
    camera: Camera,
    ends: tuple[Floats, Floats],
    outward: Floats,
    reach: tuple[float, float],
) -> Strip:
    first, last = ends
    length_px = float(np.hypot(*(project(camera, last) - project(camera, first))[0]))
    count = int(np.clip(length_px / PROFILE_STEP_PX, *PROFILES))
    along = np.linspace(-END_SHARE, END_SHARE, count)
    world = 0.5 * (first + last) + along[:, None] * 0.5 * (last - first)
    points = project(camera, world)
    ahead = project(camera, world + 1e-3 * np.insert(outward, 1, 0.0)) - points
    tangent = np.gradient(points, axis=0)
    normals = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normals *= np.sign(np.sum(normals * ahead, axis=1))[:, None]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    reach_px, tilt_share = reach
    return Strip(
        points_px=points,
        normals=normals,
        along=along,
        inward_px=reach_px,
        outward_px=reach_px,
        tilt_px=tilt_share * length_px / 2.0 + 2.0,
    )


def lines_near(level: Level, strip: Strip) -> tuple[Line, ...]:
    """Find straight edges in a strip given in photo px; answer in photo px.

    Where luminance shows none along most of the strip, the channels are asked.
    """
    scaled = Strip(
        points_px=on_level(level, strip.points_px),
        normals=strip.normals,
        along=strip.along,
        inward_px=strip.inward_px / level.shrink,
        outward_px=strip.outward_px / level.shrink,
        tilt_px=strip.tilt_px / level.shrink,
    )
    lines = straight_edges(level.grey, scaled)
    if max((line.support for line in lines), default=0.0) < CLEAR_SUPPORT:
        lines += _coloured_edges(level, scaled)
    return tuple(
        replace(
            line,
            offset_px=line.offset_px * level.shrink,
            tilt_px=line.tilt_px * level.shrink,
        )
        for line in lines
    )


def _coloured_edges(level: Level, strip: Strip) -> tuple[Line, ...]:
    """Find the straight edges that stand out in one channel, named by it."""
    return tuple(
        replace(line, channel=channel)
        for channel in range(3)
        for line in straight_edges(seen_in(level, channel), strip)
    )


def levels_at(level: Level, points_px: Floats) -> Floats:
    """Read the pixels nearest to photo points (n, 2); beyond the edge, the last."""
    column, row = np.rint(on_level(level, points_px)).astype(int).T
    height, width = level.grey.shape
    spots = level.grey[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)]
    return np.asarray(spots, np.float64)
