"""Edge points of one flank in, the widest point of each coil out.

At a flank the wire's axis is seen as x = R cos t, z = k t (R mean coil radius, k rise
per radian) and the outline keeps the wire's radius from it. Seen from above by an angle
a, the wire's way in depth adds R tan a to the rise on one flank and takes it off the
other, by the hand of winding. With the known course of the axis taken off, the end of a
coil is a true circle, whose widest point and radius many points fix far better than the
single outermost pixel does.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import EdgePoints, Floats
from calib.runs import split_runs

LEAST_POINTS = 7
NEAR_WIDEST = 0.05  # an arc must reach its widest point, in sines, from both sides
LEAST_ARC = 0.5  # and turn by this much in all
BALANCED = 0.35  # an arc that turns so far to both sides fixes its widest point best
STRANGE = 2.5  # times the usual radius of arcs as they are seen, their course included
UNLIKE = 0.5  # an arc's radius may differ by this share from the usual one
STEEPEST = 0.88  # sine of the angle from the widest point up to which points are used
STEEPEST_RAD = 1.3
MOST_TURN = 0.95  # sine of the turn past the widest place up to which a course is known
FIT_ROUNDS = 8
COURSE_ROUNDS = 5  # the angle at which a point is seen and the course fix each other
SETTLED_PX, SETTLED_RAD = 1e-3, 1e-4
HUBER_PX = 0.3
ALIKE = 0.15  # u of one coil's radius about the usual one, as a share: one wire
SMALLEST_PX = 0.5
FLOOR_PX = 0.03  # no coil's widest point is known better than this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coils:
    """Widest points of one flank, foot to top: px (n, 2), the wire's radius, u in px.

    ``side`` is +1 on the right, -1 on the left; ``outward`` the unit direction in the
    picture along which "widest" is meant.
    """

    side: int
    points_px: Floats
    radius_px: Floats
    u_px: Floats
    outward: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How a flank is seen: side, hand of winding (+1 right), lens height and distance.

    Both in px of the axis plane, the height over the spring's foot.
    """

    side: int
    hand: int
    lens_up_px: float
    distance_px: float

    def depth_rise(self, up_px: Floats, radius_px: Floats) -> Floats:
        """Give what the wire's way in depth adds to its rise per radian (n,)."""
        tangent = (self.lens_up_px - up_px) / self.distance_px
        return np.asarray(self.side * self.hand * radius_px * tangent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How the wire's axis runs past its widest place: rise per radian, coil radius."""

    rise_px: float
    radius_px: float

    def at(self, angle: Floats) -> tuple[Floats, Floats, Floats]:
        """How far outward and up the axis is (n,) where the edge's normal has an angle.

        The normal is across the axis as seen: tan(angle) = R sin t / k. Also how far
        (n,) the axis runs there per radian of that angle.
        """
        share = self.rise_px / self.radius_px
        sine = np.clip(share * np.tan(angle), -MOST_TURN, MOST_TURN)
        cosine = np.sqrt(1 - sine**2)
        speed = abs(share) / np.cos(angle) ** 2 / cosine
        return (
            -self.radius_px * (1 - cosine),
            self.rise_px * np.arcsin(sine),
            speed * np.hypot(self.radius_px * sine, self.rise_px),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circle:
    """A circle in (outward, up) px with the rms of its points' distances."""

    out_px: float
    up_px: float
    radius_px: float
    rms_px: float
    points: int
    turned: float  # the lesser of the sines to which it turns on its two sides

    @property
    def u_px(self) -> float:
        """How well its widest point is known; neighbouring points err alike."""
        balance = float(np.clip(self.turned / BALANCED, 0.25, 1.0))
        return float(
            np.hypot(self.rms_px / np.sqrt(self.points / 4), FLOOR_PX) / balance
        )


def find_coils(flank: EdgePoints, axis_px: Floats, sight: Sight) -> Coils:
    """Split a flank into coils and find each one's widest point."""
    side = sight.side
    up = axis_px[1] - axis_px[0]
    up = up / np.linalg.norm(up)
    right = np.array([-up[1], up[0]])
    outward = right * np.sign(right[0] or 1.0) * side
    local = (flank.points_px - axis_px[0]) @ np.column_stack([outward, up])
    order = np.argsort(local[:, 1])
    tilt, local = (flank.normals @ up)[order], local[order]
    runs = [
        local[run]
        for run in split_runs(local[:, 0], local[:, 1], LEAST_POINTS)
        if len(run) >= LEAST_POINTS
        and tilt[run].min() < NEAR_WIDEST
        and tilt[run].max() > -NEAR_WIDEST
        and np.ptp(tilt[run]) > LEAST_ARC
    ]
    circles = _follow_course(runs, sight)
    frame = np.vstack([outward, up])
    widest = [[each.out_px + each.radius_px, each.up_px] for each in circles]
    return Coils(
        side=side,
        points_px=axis_px[0] + np.array(widest).reshape(-1, 2) @ frame,
        radius_px=np.array([each.radius_px for each in circles]),
        u_px=np.array([each.u_px for each in circles]),
        outward=outward,
    )


def _follow_course(runs: list[Floats], sight: Sight) -> list[Circle]:
    """Fit circles, then again with the course of the wire's axis taken off."""
    raw = [fit_end(run) for run in runs]
    usual = float(np.median([each.radius_px for each in raw] or [1.0]))
    pairs = [
        (run, circle)
        for run, circle in zip(runs, raw, strict=True)
        if usual / STRANGE < circle.radius_px < usual * STRANGE
    ]
    heights = np.array([circle.up_px for _, circle in pairs])
    radii = np.array([_mean_radius(circle) for _, circle in pairs])
    rises = rise_per_radian(heights) + sight.depth_rise(heights, radii)
    courses = [
        Course(rise_px=float(rise), radius_px=float(radius))
        for rise, radius in zip(rises, radii, strict=True)
    ]
    ends = [
        fit_end(run, course) for (run, _), course in zip(pairs, courses, strict=True)
    ]
    wire = float(np.median([each.radius_px for each in ends] or [1.0]))
    return [
        fit_end(run, course, wire)
        for (run, _), course, end in zip(pairs, courses, ends, strict=True)
        if abs(end.radius_px / wire - 1) < UNLIKE
    ]


def rise_per_radian(heights: Floats) -> Floats:
    """Rise of the wire per radian at each coil, from its neighbours' heights."""
    if len(heights) < 2:  # noqa: PLR2004 - a pitch needs two coils
        return np.zeros(len(heights))
    gaps = np.diff(heights)
    usual = float(np.median(gaps))
    gaps = np.minimum(gaps, 1.3 * usual)  # a coil that was not seen is no pitch
    both = np.column_stack([np.append(gaps[:1], gaps), np.append(gaps, gaps[-1:])])
    return np.asarray(both.mean(axis=1) / (2 * np.pi))


def _mean_radius(circle: Circle) -> float:
    """Mean coil radius in px: how far out the wire's axis lies."""
    return max(circle.out_px, 2 * circle.radius_px)


STRAIGHT = Course(rise_px=0.0, radius_px=1.0)


def fit_end(
    points: Floats, course: Course = STRAIGHT, usual_px: float | None = None
) -> Circle:
    """Fit a coil's end, a circle carried along a course, robustly to (n, 2) points.

    Distances are at right angles to the outline: a fit that is linear in the points
    would read short arcs small. Near ``usual_px`` in radius where they leave it open.
    """
    centre, radius = _first_circle(points)
    rest, angle = np.zeros(len(points)), np.zeros(len(points))
    used = np.ones(len(points), dtype=bool)
    for _ in range(FIT_ROUNDS):
        rest, angle = _off_end(points, centre, radius, course)
        near = np.abs(np.sin(angle)) < STEEPEST
        used = near if near.sum() >= LEAST_POINTS else np.ones(len(points), dtype=bool)
        away = rest[used]
        scale = max(HUBER_PX, 1.5 * float(np.median(np.abs(away))))
        weight = np.minimum(1.0, scale / np.maximum(np.abs(away), 1e-9))
        design = np.column_stack(
            [np.cos(angle[used]), np.sin(angle[used]), np.ones(len(away))]
        )
        normal = (design * weight[:, None]).T @ design + 1e-9 * np.eye(3)
        pull = design.T @ (weight * away)
        if usual_px is not None:
            stiff = (HUBER_PX / (ALIKE * usual_px)) ** 2
            normal[2, 2] += stiff
            pull[2] += stiff * (usual_px - radius)
        move = np.clip(np.linalg.solve(normal, pull), -radius, radius)
        centre = centre + move[:2]
        radius = max(radius + float(move[2]), SMALLEST_PX)
        if np.abs(move).max() < SETTLED_PX:
            break
    sine = np.sin(angle[used])
    return Circle(
        out_px=float(centre[0]),
        up_px=float(centre[1]),
        radius_px=radius,
        rms_px=float(np.sqrt(np.mean(rest[used] ** 2))),
        points=int(used.sum()),
        turned=float(min(sine.max(), -sine.min())),
    )


def _off_end(
    points: Floats, centre: Floats, radius_px: float, course: Course
) -> tuple[Floats, Floats]:
    """How far outside the end points lie, and the angle of its normal there (n,)."""
    local = points - centre
    angle = np.arctan2(local[:, 1], local[:, 0])
    far = np.zeros(len(points))
    for _ in range(COURSE_ROUNDS):
        angle = np.clip(angle, -STEEPEST_RAD, STEEPEST_RAD)
        out, up, speed = course.at(angle)
        out, up = local[:, 0] - out, local[:, 1] - up
        sine, cosine = np.sin(angle), np.cos(angle)
        far = out * cosine + up * sine
        step = (up * cosine - out * sine) / (np.maximum(far, SMALLEST_PX) + speed)
        angle = angle + step
        if np.abs(step).max() < SETTLED_RAD:
            break
    return far - radius_px, angle


def _first_circle(points: Floats) -> tuple[Floats, float]:
    """Fit a circle by linear least squares (Kasa), to begin with."""
    origin = points.mean(axis=0)
    local = points - origin
    design = np.column_stack([2 * local, np.ones(len(local))])
    solution = np.linalg.lstsq(design, (local**2).sum(axis=1), rcond=None)[0]
    inside = solution[:2]
    return origin + inside, float(np.sqrt(max(solution[2] + inside @ inside, 1e-12)))
