"""A problem and a rough pose in, the best pose of all that could be meant out.

Far from the target its two slants towards and away from the camera look much alike,
and so do a back edge seen and a stock that stands out. Each is tried on a part of the
points; the likeliest is then solved with all of them.
"""

from dataclasses import replace

import numpy as np

from calib.pose.model import Observed
from calib.pose.solve import PoseFit, Problem, solve_pose
from calib.pose.unknowns import (
    PLACE,
    STANDOUT,
    TURN,
    UNLIKELY_COST,
    seen_depths,
    standing_ways,
)
from calib.records import Floats

DEPTH_ROUNDS = 2  # which faces are seen follows from the pose, and it from them
THINNED = 4
PLAIN_STRAIN = 8.0  # below it the first slant is surely right
UNDER_PLATE_MM = 5.0  # u of a lens below the plate, where its edge hides the foot


def solve_standing(problem: Problem, start: Floats) -> PoseFit:
    """Solve for the likeliest slant and way to stand out.

    The problem's priors leave open how deep each seen edge lies; once the pose is
    roughly known, edges before a hidden face are held to the front.
    """
    thin = replace(problem, observed=_thinned(problem.observed))
    fits: list[PoseFit] = []
    for slant in _slants(start):
        fits = sorted([*fits, *_all_ways(thin, slant)], key=_cost)
        if fits[0].strain < PLAIN_STRAIN:
            break
    fit = fits[0]
    for _ in range(DEPTH_ROUNDS):
        seen = seen_depths(fit.problem.priors, fit.theta, problem.model)
        fit = solve_pose(replace(problem, priors=seen), fit.theta)
    return fit


def _all_ways(problem: Problem, start: Floats) -> list[PoseFit]:
    """Solve with each way to stand out."""
    rough = solve_pose(problem, start)
    fits = []
    for way in standing_ways(problem.priors, problem.model):
        seen = seen_depths(way, rough.theta, problem.model)
        fits.append(solve_pose(replace(problem, priors=seen), rough.theta))
    return fits


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


def _cost(fit: PoseFit) -> float:
    below_mm = max(-float(fit.camera.position_mm[2]), 0.0)
    standout_mm = fit.problem.priors.estimate[STANDOUT]
    unlikely = UNLIKELY_COST * (standout_mm > fit.problem.model.standouts_mm[0][0])
    return fit.cost + float(unlikely) + (below_mm / UNDER_PLATE_MM) ** 2


def _thinned(observed: Observed) -> Observed:
    """Keep some points, each standing for its neighbours."""
    return Observed(
        points_px=observed.points_px[::THINNED],
        side=observed.side[::THINNED],
        along=observed.along[::THINNED],
        u_px=observed.u_px[::THINNED] / np.sqrt(THINNED),
    )
