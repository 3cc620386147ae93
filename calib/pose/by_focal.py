"""A pose solved with a guessed focal length in, one for each that it may be out.

A flat target seen from the front gives no focal length, and what depends on it bends
too much for linear steps. So the pose is solved again for focal lengths all over what
is believed possible; each comes with the logarithm of its probability (Bayes, by
Laplace's approximation about each solution).

A picture without a record may have been cut out of a larger one, as the row out of a
phone's photo: then its focal length is the longer beside its size, and the lens's axis
may lie anywhere in what was cut away, or be out of the picture.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.pose.solve import PoseFit, Problem, even_weights
from calib.pose.stand import Rival, solve_standing
from calib.pose.unknowns import CENTRE, FOCAL, LEAST_U, PLACE
from calib.records import Floats

# Shares of the guess; up to the first long one even steps of the logarithm, beyond it
# of what it does to perspective.
SHORTEST, LONG, LONGEST, STEP, FAR_STEPS = 0.5, 3.0, 30.0, 0.1, 9
# Of pictures without a record so many are cut out of larger ones, if they have the
# shape of a camera's; else all are. The mean logarithm of how much larger those were.
USUAL_SHAPES, SHAPE_SLACK = (1.0, 4 / 3, 3 / 2, 16 / 9), 0.01
CUT_SHARE, CUT_MEAN = 0.2, 0.6
CUTS = np.linspace(0.0, 4.0, 161)  # logarithms over which that is summed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FocalFit:
    """A pose solved with one focal length, the picture being whole or cut out.

    ``log_share`` is the logarithm of its probability, but for a constant.
    """

    log_share: float
    cut: bool
    pose: PoseFit
    rivals: tuple[Rival, ...]


def solve_by_focal(fit: PoseFit) -> tuple[FocalFit, ...]:
    """Solve with each focal length held, the same points counting all the time."""
    kept, steps = _weighed(fit), _steps()
    cut_share = _cut_share(fit.problem.priors.size_px)
    kinds = [(True, cut_share)]
    if cut_share < 1.0:
        kinds.insert(0, (False, 1.0 - cut_share))
    return tuple(
        _solved(kept, fit.theta, float(step), cut, float(np.log(share * width)))
        for cut, share in kinds
        for step, width in zip(steps, np.gradient(steps), strict=True)
    )


def _solved(
    kept: Problem, start: Floats, step: float, cut: bool, log_share: float
) -> FocalFit:
    priors = kept.priors
    estimate, u = priors.estimate.copy(), priors.u.copy()
    likely, away_u = _believed(step, float(u[FOCAL]), cut)
    estimate[FOCAL] += step
    u[FOCAL] = LEAST_U
    away_px = away_u * max(priors.size_px)
    u[CENTRE : CENTRE + 2] = np.hypot(u[CENTRE : CENTRE + 2], away_px)
    problem = replace(kept, priors=replace(priors, estimate=estimate, u=u))
    begin = _zoomed(start, float(estimate[FOCAL]))
    held, rivals = solve_standing(problem, begin, even_weights)
    return FocalFit(
        log_share=_log_evidence(held) + likely + log_share,
        cut=cut,
        pose=held,
        rivals=rivals,
    )


def _steps() -> Floats:
    """Logarithms of the shares of the guess that are tried."""
    least, long = np.log([SHORTEST, LONG])
    near = np.linspace(least, long, round((long - least) / STEP) + 1)
    far = -np.log(np.linspace(1.0 / LONG, 1.0 / LONGEST, FAR_STEPS + 1)[1:])
    return np.concatenate([near, far])


def _cut_share(size_px: tuple[int, int]) -> float:
    """How likely the picture was cut out of a larger one, by its shape."""
    shape = max(size_px) / min(size_px)
    usual = any(abs(shape / each - 1.0) < SHAPE_SLACK for each in USUAL_SHAPES)
    return CUT_SHARE if usual else 1.0


def _believed(step: float, focal_u: float, cut: bool) -> tuple[float, float]:
    """Logarithm of how likely a focal length is, and u of the lens's axis if it is.

    That u is a share of the picture's width: even over what may have been cut away.
    """
    if not cut:
        return -0.5 * (step / focal_u) ** 2, 0.0
    share = np.exp(-CUTS / CUT_MEAN - 0.5 * ((step - CUTS) / focal_u) ** 2)
    away = (np.exp(CUTS) - 1.0) ** 2 / 12.0
    likely = float(share.sum()) * (CUTS[1] - CUTS[0]) / CUT_MEAN
    return float(np.log(likely)), float(np.sqrt(share @ away / share.sum()))


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
