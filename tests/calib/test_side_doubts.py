"""How much is believed of a target's side, by how its points lie."""

import numpy as np
import pytest

from calib.pose.model import SideModel
from calib.records import EdgePoints, Floats
from calib.target.doubts import doubted_model, observed_points
from calib.target.points import SidePoints
from calib.target.square_card import square_card_model
from tests.calib.scene import CARD, reference

MODEL = square_card_model(reference(CARD))
COUNT = 60
ALONG = np.linspace(-0.95, 0.95, COUNT)


def points_seen(away_px: Floats, inside: float = 0.1) -> SidePoints:
    """Points of the first side, so far beside its line."""
    points = EdgePoints(
        points_px=np.column_stack([100.0 + 200.0 * ALONG, 50.0 + away_px]),
        normals=np.tile([0.0, 1.0], (COUNT, 1)),
        blur_px=np.ones(COUNT),
        inside=np.full(COUNT, inside),
        outside=np.full(COUNT, 0.6),
        u_px=np.full(COUNT, 0.02),
        spread_px2=np.ones(COUNT),
    )
    return SidePoints(side=0, points=points, along=ALONG, tried=COUNT)


def side_seen(away_px: Floats, inside: float = 0.1) -> SideModel:
    """The first side, after points were seen so far beside its line."""
    return doubted_model(MODEL, (points_seen(away_px, inside),)).sides[0]


def doubts(side: SideModel) -> tuple[float, float, float]:
    return side.own_u_px, side.tilt_u_px, side.bow_u_px


def noise(u_px: float) -> Floats:
    return u_px * np.random.default_rng(5).standard_normal(COUNT)


def test_a_sound_side_is_believed_as_before() -> None:
    """Nor does a smooth bend count, which is the lens's, nor a third of strays."""
    strays = np.where(np.arange(COUNT) % 3 == 0, 12.0, 0.0)

    for away in (noise(0.05), noise(0.05) + ALONG**2, noise(0.05) + strays):
        assert doubts(side_seen(away)) == doubts(MODEL.sides[0])


def test_a_side_that_scatters_is_believed_less() -> None:
    """Offset, tilt and bow by what a quarter of it may err: half the scatter and more.

    A scatter of 0.5 px leaves an offset of 0.25 px open.
    """
    side = side_seen(noise(0.5))

    assert side.own_u_px == pytest.approx(0.25, rel=0.3)
    assert side.own_u_px < side.tilt_u_px < side.bow_u_px


@pytest.mark.parametrize("scatter_px", [0.2, 0.8])
def test_points_err_as_their_side_scatters(scatter_px: float) -> None:
    """Three neighbours err alike, so each counts for a third; a bend is no scatter."""
    sound = observed_points((points_seen(noise(0.02) + ALONG**2),)).u_px
    rough = observed_points((points_seen(noise(scatter_px) + ALONG**2),)).u_px

    assert sound == pytest.approx(np.hypot(0.02, 0.03) * np.sqrt(3.0))
    assert rough == pytest.approx(scatter_px * np.sqrt(3.0), rel=0.3)


@pytest.mark.parametrize(("inside", "own_u_px"), [(0.48, 0.42), (0.75, 0.42)])
def test_a_faint_step_is_believed_less(inside: float, own_u_px: float) -> None:
    """A fifth of the light, brighter or darker: shading moves it by half a pixel."""
    side, sound = side_seen(noise(0.05), inside=inside), MODEL.sides[0]

    assert side.own_u_px == pytest.approx(np.hypot(own_u_px, sound.own_u_px), rel=0.01)
    assert side.tilt_u_px == sound.tilt_u_px


def test_a_side_of_a_blown_face_is_believed_less() -> None:
    """Glare moves and tilts it, and leaves it straight."""
    side, sound = side_seen(noise(0.05), inside=0.99), MODEL.sides[0]

    assert side.own_u_px > 4.0 * sound.own_u_px
    assert side.tilt_u_px > 4.0 * sound.tilt_u_px
    assert side.bow_u_px == sound.bow_u_px
