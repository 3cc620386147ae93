"""Poses for every focal length that may be, and how likely each is."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calib.camera import CORNER_U
from calib.pose.by_focal import FocalFit, solve_by_focal
from calib.pose.solve import PoseFit, Problem
from calib.pose.stand import solve_standing
from calib.pose.unknowns import (
    CENTRE,
    FOCAL,
    K1,
    PLACE,
    TURN,
    camera_of,
    make_priors,
    similar_pose,
)
from calib.records import Floats
from calib.target.square_card import square_card_model
from tests.calib.scene import CARD, reference
from tests.calib.test_pose import INNER, see

MODEL = square_card_model(reference(CARD, -3.0))
GUESSED = replace(INNER, focal_px=3600.0, focal_u=0.45, cut_share=0.2)
TRUE_LOG = float(np.log(INNER.focal_px))
SLANTS = {"from the front": (0.0, 0.0, 0.0), "from above": (0.22, 0.0, 0.0)}


@cache
def cases(slant: str) -> tuple[FocalFit, ...]:
    """A card 640 mm away, solved with a focal length that is guessed too short."""
    true = make_priors(MODEL, INNER)
    theta = true.estimate.copy()
    theta[TURN : TURN + 3] = SLANTS[slant]
    theta[PLACE : PLACE + 3] = (-0.03, 0.01, np.log(640.0))
    observed = see(MODEL, true, theta, None)
    priors = make_priors(MODEL, GUESSED)
    start = similar_pose(priors, observed.points_px.mean(axis=0), 8.1, 0.0)
    fit, _ = solve_standing(
        Problem(observed=observed, model=MODEL, priors=priors), start
    )
    return solve_by_focal(fit)


def poses(slant: str, *, cut: bool) -> list[PoseFit]:
    return [each.pose for each in cases(slant) if each.cut is cut]


def focal_moments(slant: str) -> tuple[float, float]:
    """Mean and u of the focal length's logarithm, less the true one."""
    logs = np.array([each.pose.theta[FOCAL] for each in cases(slant)]) - TRUE_LOG
    shares = np.exp([each.log_share for each in cases(slant)])
    shares /= shares.sum()
    mean = float(shares @ logs)
    return mean, float(np.sqrt(shares @ (logs - mean) ** 2))


def test_a_slanted_card_tells_the_focal_length() -> None:
    """Its upper edge is seen smaller by what the distance makes of it."""
    mean, u = focal_moments("from above")

    assert u < 0.15
    assert abs(mean) < 2 * u


def test_a_card_from_the_front_leaves_the_focal_length_open() -> None:
    """What was believed before is believed still."""
    _, u = focal_moments("from the front")

    assert u > 0.3


def test_every_lens_may_bend_the_corner_alike() -> None:
    """k1 counts in focal lengths: a lens twice as long may have four times as much."""
    corner = float(np.hypot(*INNER.size_px)) / 2.0
    bends = [
        fit.problem.priors.u[K1] * (corner / np.exp(fit.theta[FOCAL])) ** 2
        for fit in poses("from the front", cut=False)
    ]

    assert min(bends) == pytest.approx(CORNER_U, rel=1e-6)
    assert bends[-1] == pytest.approx(CORNER_U, rel=1e-6)


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("slant", SLANTS)
def test_every_case_sees_the_card_where_it_is_seen(slant: str, cut: bool) -> None:
    """From less than half the guess on; the sides lie within a tenth of a pixel."""
    fits = poses(slant, cut=cut)
    focal_px = [float(np.exp(fit.theta[FOCAL])) for fit in fits]

    assert focal_px[0] < 0.5 * 3600.0
    assert focal_px[-1] > 5 * 3600.0
    assert np.all(np.diff(focal_px) > 0.0)
    near = [fit for fit in fits if abs(fit.theta[FOCAL] - TRUE_LOG) < 0.2]
    assert near
    for fit in near:
        assert rms(fit.residual_px) < 0.1
        camera = camera_of(fit.theta, fit.problem.priors)
        away = float(np.linalg.norm(camera.position_mm - fit.problem.priors.pivot_mm))
        assert away / camera.focal_px == pytest.approx(640.0 / 5200.0, rel=0.02)


def test_the_axis_of_a_cut_picture_may_lie_outside_it() -> None:
    """Cut to a third of a phone's photo, its middle is a width of the rest away."""
    third = [fit for fit in poses("from the front", cut=True) if focal_px(fit) > 10800]
    whole = poses("from the front", cut=False)

    assert third[0].problem.priors.u[CENTRE] > 0.4 * GUESSED.size_px[0]
    assert {float(fit.problem.priors.u[CENTRE]) for fit in whole} == {
        GUESSED.centre_u_px
    }


def focal_px(fit: PoseFit) -> float:
    return float(np.exp(fit.theta[FOCAL]))


def rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))
