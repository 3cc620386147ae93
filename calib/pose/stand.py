"""A problem and a rough pose in, the best pose over all ways to stand out."""

from dataclasses import replace

import numpy as np

from calib.pose.solve import PoseFit, Problem, solve_pose
from calib.pose.unknowns import UNLIKELY_COST, seen_depths, standing_ways
from calib.records import Floats

DEPTH_ROUNDS = 2  # which faces are seen follows from the pose, and it from them


def solve_standing(problem: Problem, start: Floats) -> PoseFit:
    """Solve with each way in which the stock may stand out, and keep the likeliest.

    The problem's priors leave open how deep each seen edge lies; once the pose is
    roughly known, edges before a hidden face are held to the front.
    """
    rough = solve_pose(problem, start)
    fits = []
    for way in standing_ways(problem.priors, problem.model):
        fit = rough
        for _ in range(DEPTH_ROUNDS):
            seen = seen_depths(way, fit.theta, problem.model)
            fit = solve_pose(replace(problem, priors=seen), fit.theta)
        fits.append(fit)
    costs = [fit.cost + UNLIKELY_COST * number for number, fit in enumerate(fits)]
    return fits[int(np.argmin(costs))]
