"""A problem and a rough pose in, the best pose of all that could be meant out.

Far from the target its two slants towards and away from the camera look much alike,
and so do a back edge seen and a stock that stands out. Each is tried on a part of the
points; the likeliest is then solved with all of them. Where none of them explains the
sides, the faces are tried that a view from aside, above or below would show.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from calib.pose.model import Observed
from calib.pose.solve import PoseFit, Problem, Weigh, solve_pose, tukey_weights
from calib.pose.unknowns import (
    PLACE,
    TURN,
    UNLIKELY_COST,
    seen_depths,
    standing_ways,
)
from calib.records import Floats

DEPTH_ROUNDS = 2  # which faces are seen follows from the pose, and it from them
THINNED = 4
PLAIN_STRAIN = 8.0  # below it the first slant is surely right
ASIDE = np.radians(6.0)  # enough to show a face from almost any distance
RIVAL_COST = 12.0  # a likelihood of 1 in 400
UNDER_PLATE_MM = 5.0  # u of a lens below the plate, where its edge hides the foot


Attempt = tuple[float, int, PoseFit]  # cost, way, fit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rival:
    """Another pose that the photo leaves possible, and how likely it is (below 1/2)."""

    theta: Floats
    likelihood: float


def solve_standing(
    problem: Problem,
    start: Floats,
    weigh: Weigh = tukey_weights,
    *,
    near: bool = False,
) -> tuple[PoseFit, tuple[Rival, ...]]:
    """Solve for the likeliest slant and way to stand out, and name its rivals.

    The problem's priors leave open how deep each seen edge lies; once the pose is
    roughly known, edges before a hidden face are held to the front. From a start that
    is ``near`` neither other slants nor other faces are tried.
    """
    thin = replace(problem, observed=_thinned(problem.observed))
    tries: list[Attempt] = []
    for slant in [start] if near else _slants(start):
        tries += _all_ways(thin, slant, weigh)
        if min(tries, key=_likeliest)[2].strain < PLAIN_STRAIN:
            break
    else:
        for seen in () if near else _asides(start):
            tries += _all_faces(thin, seen, weigh)
    least, way, fit = min(tries, key=_likeliest)
    for _ in range(DEPTH_ROUNDS):
        fit = solve_pose(_way_to_stand(problem, way, fit.theta), fit.theta, weigh)
    others = [each for each in tries if each[1] != way]
    if not others:
        return fit, ()
    cost, other_way, other = min(others, key=_likeliest)
    if cost - least > RIVAL_COST:
        return fit, ()
    again = solve_pose(
        _way_to_stand(problem, other_way, other.theta), other.theta, weigh
    )
    likelihood = 1.0 / (1.0 + np.exp(0.5 * (cost - least)))
    return fit, (Rival(theta=again.theta, likelihood=float(likelihood)),)


def _all_ways(problem: Problem, start: Floats, weigh: Weigh) -> list[Attempt]:
    """Solve with each way to stand out; give cost, way and fit."""
    rough = solve_pose(problem, start, weigh)
    ways = range(len(problem.model.standouts_mm))
    return [_attempt(problem, way, rough.theta, weigh) for way in ways]


def _all_faces(problem: Problem, start: Floats, weigh: Weigh) -> list[Attempt]:
    """Solve with each way to stand out, and the faces shown that the start shows."""
    tries = []
    for way in range(len(problem.model.standouts_mm)):
        rough = solve_pose(_way_to_stand(problem, way, start), start, weigh)
        tries.append(_attempt(problem, way, rough.theta, weigh))
    return tries


def _attempt(problem: Problem, way: int, theta: Floats, weigh: Weigh) -> Attempt:
    fit = solve_pose(_way_to_stand(problem, way, theta), theta, weigh)
    below_mm = max(-float(fit.camera.position_mm[2]), 0.0)
    unlikely = UNLIKELY_COST * way + (below_mm / UNDER_PLATE_MM) ** 2
    return fit.cost + unlikely, way, fit


def _likeliest(attempt: Attempt) -> float:
    return attempt[0]


def _way_to_stand(problem: Problem, way: int, theta: Floats) -> Problem:
    """Close what the pose hides, and stand the stock out in one way."""
    seen = seen_depths(problem.priors, theta, problem.model)
    return replace(problem, priors=standing_ways(seen, problem.model)[way])


def _slants(theta: Floats) -> list[Floats]:
    """Give the pose, and the same slanted the other way against the line of sight."""
    across, down = theta[PLACE : PLACE + 2]
    slants = []
    for flips in ((), (0,), (1,), (0, 1)):
        slant = theta.copy()
        for axis in flips:
            level = -down if axis == 0 else across
            slant[TURN + axis] = 2.0 * level - theta[TURN + axis]
        slants.append(slant)
    return slants


def _asides(theta: Floats) -> list[Floats]:
    """Give the pose square to the line of sight, and from aside, above and below."""
    across, down = theta[PLACE : PLACE + 2]
    views = []
    for tilt, yaw in product((0.0, -ASIDE, ASIDE), repeat=2):
        view = theta.copy()
        view[TURN : TURN + 2] = tilt - down, yaw + across
        views.append(view)
    return views


def _thinned(observed: Observed) -> Observed:
    """Keep some points, each standing for its neighbours."""
    some = observed.chosen(np.arange(0, len(observed.u_px), THINNED))
    return replace(some, u_px=some.u_px / np.sqrt(THINNED))
