"""The edge points of coils' ends in, a circle carried along each wire's course out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import Floats, Rows
from vision.spring.medians import row_median

Mask = NDArray[np.bool_]

LEAST_POINTS = 7
BALANCED = 0.35  # an arc that turns so far to both sides fixes its widest point best
STEEPEST = 0.88  # sine of the angle from the widest point up to which points are used
STEEPEST_RAD = 1.3
MOST_TURN = 1.25  # radian past the widest place up to which a course is known
FIT_ROUNDS = 8
COURSE_ROUNDS = 5  # the angle at which a point is seen and the course fix each other
SETTLED_PX, SETTLED_RAD = 1e-3, 1e-4
HUBER_PX = 0.3
ALIKE = 0.15  # u of one coil's radius about the usual one, as a share: one wire
SMALLEST_PX = 0.5
FLOOR_PX = 0.03  # no coil's widest point is known better than this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends(Rows):
    """Points (n, m, 2) of ends, outward and up, as far as ``there`` (n, m) says so.

    ``spread_px2`` (n,) is that of their edge points: blur draws round ends inward.
    """

    points_px: Floats
    there: Mask
    spread_px2: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course(Rows):
    """How wires' axes run past their widest places (n,).

    ``rise_px`` per radian, ``radius_px`` of the coil, ``aside_px`` the amplitude by
    which the way in depth is seen as a rise: k t + A sin t after t radian.
    """

    rise_px: Floats
    radius_px: Floats
    aside_px: Floats

    def at(self, angle: Floats) -> tuple[Floats, Floats, Floats]:
        """How far outward and up the axes are (n, m) where edges' normals point.

        A normal is across the axis as seen: tan(angle) = R sin t / (k + A cos t). Also
        how far (n, m) the axis runs there per radian of that angle.
        """
        rise, radius, aside = (
            each[:, None] for each in (self.rise_px, self.radius_px, self.aside_px)
        )
        tangent = np.tan(angle)
        deep = aside * tangent
        sine = rise * tangent / np.hypot(radius, deep)
        turn = np.arctan2(deep, radius) + np.arcsin(np.clip(sine, -1.0, 1.0))
        turn = np.clip(turn, -MOST_TURN, MOST_TURN)
        sine, cosine = np.sin(turn), np.cos(turn)
        slope = rise + aside * cosine
        way = np.abs(slope) / np.maximum(radius * cosine + deep * sine, SMALLEST_PX)
        return (
            -radius * (1 - cosine),
            rise * turn + aside * sine,
            way / np.cos(angle) ** 2 * np.hypot(radius * sine, slope),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circles(Rows):
    """Circles (n,) in (outward, up) px with the rms of their points' distances."""

    out_px: Floats
    up_px: Floats
    radius_px: Floats
    rms_px: Floats
    points: NDArray[np.intp]
    turned: Floats  # the lesser of the sines to which each turns on its two sides

    @property
    def u_px(self) -> Floats:
        """How well widest points are known (n,); neighbouring points err alike."""
        balance = np.clip(self.turned / BALANCED, 0.25, 1.0)
        noise = self.rms_px / np.sqrt(self.points / 4)
        return np.asarray(np.hypot(noise, FLOOR_PX) / balance)

    @property
    def widest_px(self) -> Floats:
        """How far out and up the widest points lie (n, 2)."""
        return np.column_stack([self.out_px + self.radius_px, self.up_px])

    @property
    def coil_radius_px(self) -> Floats:
        """Mean radius of the coils: how far out the wire's axis lies (n,)."""
        return np.maximum(self.out_px, 2 * self.radius_px)


def padded(runs: list[Floats], spreads_px2: list[float]) -> Ends:
    """Lay runs of points (k, 2) of different lengths side by side, with spreads."""
    longest = max((len(run) for run in runs), default=1)
    there = np.array([np.arange(longest) < len(run) for run in runs], dtype=bool)
    there = there.reshape(-1, longest)
    points = np.zeros((*there.shape, 2))
    points[there] = np.concatenate([np.zeros((0, 2)), *runs])
    spreads = np.array(spreads_px2, dtype=np.float64)
    return Ends(points_px=points, there=there, spread_px2=spreads)


def fit_ends(
    ends: Ends, course: Course | None = None, usual_px: float | None = None
) -> Circles:
    """Fit coils' ends, circles carried along a course, robustly to their points.

    Distances are at right angles to the outline: a fit that is linear in the points
    would read short arcs small. Near ``usual_px`` in radius where they leave it open.
    """
    count = len(ends.there)
    nothing = np.zeros(count)
    course = course or Course(
        rise_px=nothing, radius_px=np.ones(count), aside_px=nothing
    )
    circles, going = _first_circles(ends), np.ones((count, 1), dtype=bool)
    rest, used = ends.points_px[..., 0], ends.there
    angle = seen_at(ends, circles)
    for _ in range(FIT_ROUNDS):
        rest, angle = off_ends(ends, circles, course, angle)
        near = ends.there & (np.abs(np.sin(angle)) < STEEPEST)
        enough = np.count_nonzero(near, axis=1) >= LEAST_POINTS
        used = np.where(enough[:, None], near, ends.there)
        move = _robust_move(rest, angle, used, circles[:, 2], usual_px) * going
        circles = circles + move
        circles[:, 2] = np.maximum(circles[:, 2], SMALLEST_PX)
        going = np.abs(move).max(axis=1, keepdims=True) >= SETTLED_PX
        if not going.any():
            break
    sine, points = np.sin(angle), np.count_nonzero(used, axis=1)
    highest = np.where(used, sine, -1.0).max(axis=1)
    lowest = np.where(used, sine, 1.0).min(axis=1)
    return Circles(
        out_px=circles[:, 0],
        up_px=circles[:, 1],
        radius_px=circles[:, 2],
        rms_px=np.sqrt((used * rest**2).sum(axis=1) / points),
        points=points,
        turned=np.minimum(highest, -lowest),
    )


def _robust_move(
    rest: Floats, angle: Floats, used: Mask, radius_px: Floats, usual_px: float | None
) -> Floats:
    """Move circles (n, 3), centre and radius, to the points used, burrs least."""
    normal, pull = robust_equations(rest, angle, used)
    if usual_px is not None:
        stiff = (HUBER_PX / (ALIKE * usual_px)) ** 2
        normal[:, 2, 2] += stiff
        pull[:, 2, 0] += stiff * (usual_px - radius_px)
    most = radius_px[:, None]
    return np.clip(np.linalg.solve(normal, pull)[:, :, 0], -most, most)


def robust_equations(rest: Floats, angle: Floats, used: Mask) -> tuple[Floats, Floats]:
    """Lay out circles' normal equations (n, 3, 3) and their right sides (n, 3, 1)."""
    away = np.abs(rest)
    scale = np.maximum(HUBER_PX, 1.5 * row_median(away, used))
    weight = used * np.minimum(1.0, scale / np.maximum(away, 1e-9))
    design = np.stack([np.cos(angle), np.sin(angle), np.ones_like(angle)], axis=1)
    weighted = design * weight[:, None]
    normal = weighted @ design.swapaxes(1, 2) + 1e-9 * np.eye(3)
    return normal, weighted @ rest[:, :, None]


def seen_at(ends: Ends, circles: Floats) -> Floats:
    """Angles (n, m) at which points are seen from the circles' centres."""
    x, y = np.moveaxis(ends.points_px - circles[:, None, :2], -1, 0)
    return np.asarray(np.arctan2(y, x))


def off_ends(
    ends: Ends, circles: Floats, course: Course, angle: Floats
) -> tuple[Floats, Floats]:
    """How far outside the ends points lie, and the angle of the normal there (n, m).

    What is drawn inward by blur is put back by the outline's own radius there.
    """
    x, y = np.moveaxis(ends.points_px - circles[:, None, :2], -1, 0)
    far, bend = np.zeros_like(x), np.ones_like(x)
    for _ in range(COURSE_ROUNDS):
        angle = np.clip(angle, -STEEPEST_RAD, STEEPEST_RAD)
        out, up, speed = course.at(angle)
        out, up = x - out, y - up
        sine, cosine = np.sin(angle), np.cos(angle)
        far = out * cosine + up * sine
        bend = np.maximum(far, SMALLEST_PX) + speed
        step = (up * cosine - out * sine) / bend
        angle = angle + step
        if np.abs(step * ends.there).max(initial=0.0) < SETTLED_RAD:
            break
    return far + ends.spread_px2[:, None] / (2 * bend) - circles[:, 2:], angle


def _first_circles(ends: Ends) -> Floats:
    """Fit circles (n, 3) by linear least squares (Kasa), to begin with."""
    there = ends.there[:, :, None]
    origin = (ends.points_px * there).sum(axis=1) / there.sum(axis=1)
    local = (ends.points_px - origin[:, None]) * there
    design = np.concatenate([2 * local, there], axis=2).swapaxes(1, 2)
    normal = design @ design.swapaxes(1, 2) + 1e-9 * np.eye(3)
    squares = (local**2).sum(axis=2, keepdims=True)
    solution = np.linalg.solve(normal, design @ squares)[:, :, 0]
    inside = solution[:, :2]
    square = solution[:, 2] + (inside**2).sum(axis=1)
    return np.column_stack([origin + inside, np.sqrt(np.maximum(square, 1e-12))])
