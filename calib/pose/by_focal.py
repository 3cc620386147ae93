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

from calib.camera import usual_k1_u
from calib.pose.solve import PoseFit, Problem, even_weights
from calib.pose.stand import Rival, solve_standing
from calib.pose.unknowns import CENTRE, FOCAL, K1, LEAST_U, PLACE
from calib.records import Floats

# Logarithms of shares of the guess, the guess itself among them; beyond the last of
# them even steps of what they do to perspective.
STEP, SHORTEST, LONG, LONGEST, FAR_STEPS = 0.2, -0.8, 1.2, 3.4, 4
UNLIKELY = 1e-4  # shares that are not tried
CUT_MEAN = 0.6  # logarithm of how much larger the picture was that one was cut out of
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """A focal length that may be, and what it would make of the lens's axis.

    ``step`` is its logarithm over the guess; ``axis_u`` a share of the picture's width.
    """

    step: float
    cut: bool
    log_share: float
    axis_u: float


def solve_by_focal(fit: PoseFit) -> tuple[FocalFit, ...]:
    """Solve with each focal length held, the same points counting all the time."""
    kept = _weighed(fit)
    return tuple(_solved(kept, fit.theta, case) for case in _cases(fit))


def _solved(kept: Problem, start: Floats, case: _Case) -> FocalFit:
    priors = kept.priors
    estimate, u = priors.estimate.copy(), priors.u.copy()
    estimate[FOCAL] += case.step
    u[FOCAL] = LEAST_U if u[FOCAL] > STEP else u[FOCAL]
    if not case.cut:
        u[K1] = usual_k1_u(float(np.exp(estimate[FOCAL])), priors.size_px)
    axis_px = case.axis_u * max(priors.size_px)
    u[CENTRE : CENTRE + 2] = np.hypot(u[CENTRE : CENTRE + 2], axis_px)
    problem = replace(kept, priors=replace(priors, estimate=estimate, u=u))
    begin = _zoomed(start, float(estimate[FOCAL]))
    held, rivals = solve_standing(problem, begin, even_weights, near=True)
    return FocalFit(
        log_share=_log_evidence(held) + case.log_share,
        cut=case.cut,
        pose=held,
        rivals=rivals,
    )


def _cases(fit: PoseFit) -> list[_Case]:
    """List whole pictures, then cut ones, leaving out what is out of the question."""
    priors, steps = fit.problem.priors, _steps()
    cut_share, focal_u = priors.cut_share, float(priors.u[FOCAL])
    kinds = ((False, 1.0 - cut_share), (True, cut_share))
    cases = []
    for cut, kind_share in kinds:
        for step, width in zip(steps, np.gradient(steps), strict=True):
            share, axis_u = _believed(float(step), focal_u, cut=cut)
            share *= kind_share * float(width)
            if share > UNLIKELY:
                log = float(np.log(share))
                cases.append(
                    _Case(step=float(step), cut=cut, log_share=log, axis_u=axis_u)
                )
    return cases


def _steps() -> Floats:
    """Logarithms of the shares of the guess that are tried."""
    near = STEP * np.arange(round(SHORTEST / STEP), round(LONG / STEP) + 1)
    far = -np.log(np.linspace(np.exp(-LONG), np.exp(-LONGEST), FAR_STEPS + 1)[1:])
    return np.concatenate([near, far])


def _believed(step: float, focal_u: float, *, cut: bool) -> tuple[float, float]:
    """How likely a focal length is, and u of the lens's axis if it is.

    That u is a share of the picture's width: even over what may have been cut away.
    """
    if not cut:
        return float(np.exp(-0.5 * (step / focal_u) ** 2) / focal_u), 0.0
    share = np.exp(-CUTS / CUT_MEAN - 0.5 * ((step - CUTS) / focal_u) ** 2) / focal_u
    share *= (CUTS[1] - CUTS[0]) / CUT_MEAN
    away = (np.exp(CUTS) - 1.0) ** 2 / 12.0
    total = float(share.sum())
    return total, float(np.sqrt(share @ away / max(total, UNLIKELY)))


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
