"""Parts of coils' ends in, circles of one radius along the wire's course out.

A part that lies to one side of the widest point leaves its circle open: the radius and
the centre's place trade against each other. All ends are of one wire, so one radius is
fitted to all of them at once, and what each one's points leave open is its u.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import Floats, Rows
from vision.spring.coil_ends import (
    FIT_ROUNDS,
    HUBER_PX,
    SETTLED_PX,
    Course,
    Ends,
    Mask,
    off_ends,
    robust_equations,
    seen_at,
)

STEEPEST = 0.96  # sine of the angle from the widest point up to which points are used
U_USUAL = 0.3  # u of the radius that is begun with, as a share
NOISE_PX, ALIKE_POINTS = 0.1, 4  # of edges at the least; neighbouring points err alike
LEAST_FIRM = 1e-6  # of a centre that points leave open


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlikeEnds(Rows):
    """Circles' centres outward and up (n, 2), their points' rms (n,), and u (n,) in px.

    ``u_px`` is of widest points, outward.
    """

    centres_px: Floats
    rms_px: Floats
    u_px: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Step:
    """How circles would move (n, 2), all radii, and what tells so, all in px."""

    centres: Floats
    radius: float
    u_radius: float


def fit_alike(
    ends: Ends, course: Course, centres_px: Floats, radius_px: float
) -> tuple[AlikeEnds, float, float]:
    """Fit ends as circles of one radius; also that radius and its u.

    Begins with ``centres_px`` (n, 2) and ``radius_px``, believed within `U_USUAL`.
    Distances are at right angles to the outline, burrs count least.
    """
    centres, radius = centres_px, radius_px
    angle = seen_at(ends, centres)
    rest, used, u_radius = ends.points_px[..., 0], ends.there, 0.0
    for _ in range(FIT_ROUNDS):
        circles = np.column_stack([centres, np.full(len(centres), radius)])
        rest, angle = off_ends(ends, circles, course, angle)
        used = ends.there & (np.abs(np.sin(angle)) < STEEPEST)
        step = _step(rest, angle, used, radius_px - radius, radius_px)
        u_radius = step.u_radius
        move = np.clip(step.centres, -radius, radius)
        more = float(np.clip(step.radius, -U_USUAL * radius, U_USUAL * radius))
        centres, radius = centres + move, radius + more
        if max(np.abs(move).max(initial=0.0), abs(more)) < SETTLED_PX:
            break
    rms = _rms(rest, used)
    fitted = AlikeEnds(
        centres_px=centres, rms_px=rms, u_px=_u_widest(rms, angle, used, u_radius)
    )
    return fitted, radius, u_radius


def _rms(rest: Floats, used: Mask) -> Floats:
    points = np.maximum(np.count_nonzero(used, axis=1), 1)
    return np.asarray(np.sqrt((used * rest**2).sum(axis=1) / points))


def _step(
    rest: Floats, angle: Floats, used: Mask, to_usual_px: float, usual_px: float
) -> _Step:
    """Solve for all centres and the radius that they share.

    The radius's u is what its ends' own radii scatter by, or their noise if that is
    more.
    """
    normal, pull = robust_equations(rest, angle, used)
    centre = normal[:, :2, :2] + LEAST_FIRM * np.eye(2)
    tie, free = np.moveaxis(
        np.linalg.solve(centre, np.dstack([normal[:, :2, 2:], pull[:, :2]])), -1, 0
    )
    firm = normal[:, 2, 2] - (normal[:, 2, :2] * tie).sum(axis=1)
    wanted = pull[:, 2, 0] - (normal[:, 2, :2] * free).sum(axis=1)
    belief = (HUBER_PX / (U_USUAL * usual_px)) ** 2
    told = float(firm.sum()) + belief
    more = (float(wanted.sum()) + belief * to_usual_px) / told
    own = wanted - firm * more
    freedom = max(len(own) - 1, 1)
    scatter = np.sqrt(np.sum(own**2) * len(own) / freedom) / told
    noise = np.hypot(np.median(_rms(rest, used)), NOISE_PX)
    u = float(max(scatter, noise * np.sqrt(ALIKE_POINTS / told)))
    return _Step(centres=free - tie * more, radius=more, u_radius=u)


def _u_widest(rms_px: Floats, angle: Floats, used: Mask, u_radius: float) -> Floats:
    """How well widest points are known outward (n,): by their points, and the radius.

    What makes the radius larger draws the centre in, all but what no point shows.
    """
    normal, _ = robust_equations(np.zeros_like(angle), angle, used)
    inverse = np.linalg.inv(normal[:, :2, :2] + LEAST_FIRM * np.eye(2))
    tie = (inverse @ normal[:, :2, 2:])[:, 0, 0]
    noise = np.hypot(rms_px, NOISE_PX) * np.sqrt(ALIKE_POINTS * inverse[:, 0, 0])
    return np.asarray(np.hypot(noise, u_radius * (1.0 - tie)))
