"""A pose solved with a guessed focal length in, one for each that it may be out.

A flat target seen from the front gives no focal length, and what depends on it bends
too much for linear steps. So the pose is solved again for focal lengths all over what
is believed possible; each comes with the logarithm of its probability (Bayes, by
Laplace's approximation about each solution).
"""

from dataclasses import replace

import numpy as np

from calib.pose.solve import PoseFit, Problem, even_weights
from calib.pose.stand import Rival, solve_standing
from calib.pose.unknowns import FOCAL, LEAST_U, PLACE
from calib.records import Floats

SHORTEST, LONGEST, STEP = 0.5, 3.0, 0.1  # shares of the guess; step of the logarithm

FocalFit = tuple[float, PoseFit, tuple[Rival, ...]]  # log of the share, fit, rivals


def solve_by_focal(fit: PoseFit) -> tuple[FocalFit, ...]:
    """Solve with each focal length held, the same points counting all the time."""
    priors = fit.problem.priors
    kept = _weighed(fit)
    least, most = np.log([SHORTEST, LONGEST])
    fits = []
    for step in np.linspace(least, most, round((most - least) / STEP) + 1):
        estimate, u = priors.estimate.copy(), priors.u.copy()
        estimate[FOCAL] += step
        u[FOCAL] = LEAST_U
        problem = replace(kept, priors=replace(priors, estimate=estimate, u=u))
        start = _zoomed(fit.theta, float(estimate[FOCAL]))
        held, rivals = solve_standing(problem, start, even_weights)
        unlikely = 0.5 * (step / priors.u[FOCAL]) ** 2
        fits.append((_log_evidence(held) - float(unlikely), held, rivals))
    return tuple(fits)


def _weighed(fit: PoseFit) -> Problem:
    """Keep the points that the fit kept, each with its weight in its u."""
    seen, kept = fit.problem.observed, fit.weight > 0.0
    weighed = replace(
        seen.chosen(kept), u_px=seen.u_px[kept] / np.sqrt(fit.weight[kept])
    )
    return replace(fit.problem, observed=weighed)


def _zoomed(theta: Floats, log_focal: float) -> Floats:
    """See the target at the same place and as large with another focal length."""
    longer = log_focal - theta[FOCAL]
    start = theta.copy()
    start[FOCAL] = log_focal
    start[PLACE : PLACE + 2] *= np.exp(-longer)
    start[PLACE + 2] += longer
    return start


def _log_evidence(fit: PoseFit) -> float:
    """Give the logarithm of how likely the points are, whatever the other unknowns.

    Where in the picture the target stands, and how large, may be anything.
    """
    prior = fit.prior_information.copy()
    open_to_all = [PLACE, PLACE + 1, PLACE + 2]
    per_px = float(np.exp(2.0 * fit.theta[FOCAL]))
    prior[open_to_all, open_to_all] += (per_px, per_px, 1.0)
    before = np.linalg.slogdet(prior)[1]
    after = np.linalg.slogdet(fit.data_information + fit.prior_information)[1]
    return float(0.5 * (before - after - fit.cost))
