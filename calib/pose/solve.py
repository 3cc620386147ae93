"""Edge points on a target of known size in, the camera's pose and its information out.

Minimum of sum w (r / u)^2 + sum ((theta - prior) / u)^2, so that a prior moved by one
u moves the result by that influence's signed contribution (JCGM 100:2008, 5.1.3).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.pose.lines import left_over, slopes_of
from calib.pose.model import Observed, TargetModel
from calib.pose.unknowns import (
    FOCAL,
    OFFSET,
    PLACE,
    SIDE_PARTS,
    STANDOUT,
    Priors,
    camera_of,
)
from calib.records import Camera, Floats

ROUNDS = 40
BOLD, BOLDEST = [*range(PLACE + 3), FOCAL], 0.4  # rad, and share of distances
SETTLED = 1e-5  # of the cost, which counts squared u
TUKEY = 4.7  # 95 % efficient with normal noise
LEAST_SPREAD_PX = 0.05
USUAL_STRAIN = 4.0  # of sound targets half have less than 2, one in ten more than 6
RECEDING_MM = 0.5  # a stock does not lie behind its blade's face

Weigh = Callable[[Floats, NDArray[np.int64]], Floats]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """What was seen, of what, by what kind of camera."""

    observed: Observed
    model: TargetModel
    priors: Priors


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PoseFit:
    """Unknowns at the minimum, what they leave over, and the information there.

    ``residual_px`` (n,) is taken along outward normals, side offsets already off;
    ``data_information`` and ``prior_information`` sum to the normal matrix.
    """

    theta: Floats
    problem: Problem
    residual_px: Floats
    weight: Floats
    data_information: Floats
    prior_information: Floats
    cost: float

    @property
    def camera(self) -> Camera:
        """The camera at the minimum."""
        return camera_of(self.theta, self.problem.priors)

    @property
    def edge_offset_px(self) -> float:
        """How far all edges appear moved outward."""
        return float(self.theta[OFFSET])

    @property
    def strain(self) -> float:
        """Squared pulls on all beliefs but the view: how ill they fit the photo."""
        priors = self.problem.priors
        pulls = (self.theta - priors.estimate) / priors.u
        receding = min(float(self.theta[STANDOUT]) + RECEDING_MM, 0.0) / RECEDING_MM
        return float(np.sum(pulls[FOCAL:] ** 2) + receding**2)

    @property
    def birge_ratio(self) -> float:
        """By how much all u would have to be larger for the beliefs to agree.

        The usual remedy for results that scatter more than they say (Birge 1932).
        """
        return float(np.sqrt(max(self.strain / USUAL_STRAIN, 1.0)))

    @property
    def first_side(self) -> int:
        """Index of the first unknown that belongs to a single side."""
        return len(self.theta) - SIDE_PARTS * len(self.problem.model.sides)

    @property
    def covariance(self) -> Floats:
        """Covariance of the unknowns."""
        whole = self.data_information + self.prior_information
        return np.asarray(np.linalg.inv(whole), np.float64)


def tukey_weights(residual_px: Floats, side: NDArray[np.int64]) -> Floats:
    """Give weights 0..1 that leave out what lies far from its side's own spread."""
    weight = np.ones_like(residual_px)
    for each in np.unique(side):
        own = side == each
        spread = 1.4826 * np.median(np.abs(residual_px[own]))
        far = residual_px[own] / (TUKEY * max(float(spread), LEAST_SPREAD_PX))
        weight[own] = np.where(np.abs(far) < 1.0, (1.0 - far**2) ** 2, 0.0)
    return weight


def even_weights(residual_px: Floats, side: NDArray[np.int64]) -> Floats:
    """Give every point its full weight."""
    return np.ones_like(residual_px + 0.0 * side)


def solve_pose(
    problem: Problem, start: Floats, weigh: Weigh = tukey_weights
) -> PoseFit:
    """Minimise by damped Gauss-Newton steps, weights renewed at each."""
    theta, damping = start.copy(), 1e-3
    side, certainty = problem.observed.side, problem.observed.u_px**-2.0
    residual = remaining(theta, problem)
    slopes = slopes_at(theta, problem)
    share = weigh(residual, side) * certainty
    for _ in range(ROUNDS):
        prior, draw = _prior_terms(theta, problem)
        whole = (slopes.T * share) @ slopes + prior
        pull = draw - slopes.T @ (share * residual)
        shift = np.linalg.solve(whole + damping * np.diag(np.diag(whole)), pull)
        shift /= max(float(np.max(np.abs(shift[BOLD]))) / BOLDEST, 1.0)
        trial = remaining(theta + shift, problem)
        before = _cost(theta, residual, share, problem)
        after = _cost(theta + shift, trial, share, problem)
        if not after <= before * (1.0 + SETTLED):
            damping = min(damping * 10.0, 1e6)
            continue
        theta, residual, damping = theta + shift, trial, damping * 0.1
        slopes = slopes_at(theta, problem)
        share = weigh(residual, side) * certainty
        if before - after < SETTLED * (1.0 + after):
            break
    return _summary(theta, problem, share / certainty)


def remaining(theta: Floats, problem: Problem) -> Floats:
    """Give what a pose leaves over of a problem's points, in px."""
    return left_over(theta, problem.observed, problem.model, problem.priors)


def slopes_at(theta: Floats, problem: Problem) -> Floats:
    """Give the derivatives (n, unknowns) of what is left over."""
    return slopes_of(theta, problem.observed, problem.model, problem.priors)


def _tape_gap(theta: Floats, problem: Problem) -> float:
    """Give how far the lens stands beyond its taped distance, per its u."""
    priors = problem.priors
    if priors.distance_mm is None:
        return 0.0
    depth_mm = float(np.exp(theta[PLACE + 2]))
    return (depth_mm - priors.distance_mm) / priors.distance_u_mm


def _prior_terms(theta: Floats, problem: Problem) -> tuple[Floats, Floats]:
    """Give the priors' part of the normal matrix and of its right side."""
    priors = problem.priors
    information = np.diag(priors.u**-2.0)
    pull = -(theta - priors.estimate) / priors.u**2
    if priors.distance_mm is not None:
        slope = np.exp(theta[PLACE + 2]) / priors.distance_u_mm
        information[PLACE + 2, PLACE + 2] += slope**2
        pull[PLACE + 2] -= slope * _tape_gap(theta, problem)
    return information, pull


def _cost(theta: Floats, residual: Floats, share: Floats, problem: Problem) -> float:
    gaps = (theta - problem.priors.estimate) / problem.priors.u
    return float(share @ residual**2 + np.sum(gaps**2) + _tape_gap(theta, problem) ** 2)


def _summary(theta: Floats, problem: Problem, weight: Floats) -> PoseFit:
    residual = remaining(theta, problem)
    slopes = slopes_at(theta, problem)
    share = weight / problem.observed.u_px**2
    return PoseFit(
        theta=theta,
        problem=problem,
        residual_px=residual,
        weight=weight,
        data_information=(slopes.T * share) @ slopes,
        prior_information=_prior_terms(theta, problem)[0],
        cost=_cost(theta, residual, share, problem),
    )
