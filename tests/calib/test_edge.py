"""Sub-pixel edges against the Cramér-Rao bound and exact synthetic steps."""

import numpy as np
import pytest
from scipy.special import ndtr

from calib.edge import EdgeSettings, fit_edges, locate_edges
from calib.records import Floats, Grey
from calib.step import blurred_step

HALF_LENGTH_PX = 8.0
BOX_VARIANCE_PX2 = 1.0 / 12.0
# The largest mean error of 240 profiles that noise alone explains (5 standard errors
# of the bound) plus the shape error of a square pixel taken as Gaussian.
SHAPE_BIAS_PX = 0.003


def step_picture(
    middle: Floats, normal: Floats, blur_px: float, noise: float, seed: int = 1
) -> Grey:
    """Draw a blurred edge 0.05 to 0.85, each pixel a mean over 5 x 5 points."""
    y, x = np.mgrid[:300, :340].astype(float)
    total = np.zeros(x.shape)
    offsets = (np.arange(5) + 0.5) / 5 - 0.5
    for right in offsets:
        for down in offsets:
            away = (x + right - middle[0]) * normal[0]
            away += (y + down - middle[1]) * normal[1]
            total += ndtr(away / blur_px)
    grey = 0.05 + 0.8 * total / 25.0
    noisy = grey + noise * np.random.default_rng(seed).standard_normal(grey.shape)
    return noisy.astype(np.float32)


def rough_points(middle: Floats, normal: Floats, seed: int = 2) -> Floats:
    """Place a rough point on each pixel row, up to 3 px beside the edge."""
    tangent = np.array([-normal[1], normal[0]])
    along = np.arange(-120, 120) / np.max(np.abs(normal))
    beside = np.random.default_rng(seed).uniform(-3.0, 3.0, along.size)
    points: Floats = middle + along[:, None] * tangent + beside[:, None] * normal
    return points


def unit(angle_rad: float) -> Floats:
    return np.array([np.cos(angle_rad), np.sin(angle_rad)])


@pytest.mark.parametrize("blur_px", [0.5, 0.8, 1.2, 2.0, 3.0])
@pytest.mark.parametrize("angle_rad", [0.02, 0.3, np.pi / 4, 1.9, -2.5])
def test_spread_is_near_the_cramer_rao_bound(blur_px: float, angle_rad: float) -> None:
    """No unbiased estimator beats the bound; a free blur and levels cost up to 45 %.

    Bound for unit pitch: sd = (noise/contrast) sqrt(2 sqrt(pi) s), s with the pixel's
    box. Rows meet a slanted edge at a pitch of max|n| along the normal.
    """
    noise, normal, middle = 0.01, unit(angle_rad), np.array([170.3, 150.7])
    picture = step_picture(middle, normal, blur_px, noise)
    points = rough_points(middle, normal)

    edge = locate_edges(picture, points, np.tile(normal, (240, 1)), HALF_LENGTH_PX)

    error = (edge.points_px - middle) @ normal
    whole_blur = np.sqrt(blur_px**2 + BOX_VARIANCE_PX2)
    pitch = np.max(np.abs(normal))
    bound = noise / 0.8 * np.sqrt(2 * np.sqrt(np.pi) * whole_blur * pitch)
    assert error.size == 240
    assert 0.9 * bound < np.std(error) < 1.45 * bound
    assert np.median(edge.u_px) == pytest.approx(np.std(error), rel=0.2)
    assert abs(np.mean(error)) < SHAPE_BIAS_PX + 5.0 * bound / np.sqrt(240)
    assert np.median(edge.blur_px) == pytest.approx(whole_blur, rel=0.03)


@pytest.mark.parametrize("blur_px", [0.5, 0.7, 1.2])
def test_no_phase_of_the_edge_in_the_pixel_is_biased(blur_px: float) -> None:
    """An exactly upright edge is found at every sub-pixel phase."""
    normal = np.array([1.0, 0.0])
    for phase in np.linspace(0.0, 0.9, 10):
        middle = np.array([100.0 + phase, 100.0])
        picture = step_picture(middle, normal, blur_px, 0.0)
        points = np.array([[100.0, 40.0], [102.0, 200.0], [98.0, 120.0]])

        edge = locate_edges(picture, points, np.tile(normal, (3, 1)), HALF_LENGTH_PX)

        error = edge.points_px[:, 0] - middle[0]
        assert np.max(np.abs(error)) < SHAPE_BIAS_PX


def test_rows_fitted_together_average_the_noise() -> None:
    """Three rows bring the spread down by about the square root of three."""
    middle, normal = np.array([170.3, 150.7]), unit(0.2)
    picture = step_picture(middle, normal, 1.0, 0.03)
    points = rough_points(middle, normal)[::3]
    normals = np.tile(normal, (len(points), 1))

    one = locate_edges(picture, points, normals, HALF_LENGTH_PX)
    three = locate_edges(picture, points, normals, HALF_LENGTH_PX, EdgeSettings(rows=3))

    spread_one = np.std((one.points_px - middle) @ normal)
    spread_three = np.std((three.points_px - middle) @ normal)
    assert spread_one / spread_three == pytest.approx(np.sqrt(3.0), rel=0.25)


def test_polarity_keeps_only_edges_that_brighten_outward() -> None:
    """The same edge is kept along one normal and left out along the other."""
    middle, normal = np.array([170.3, 150.7]), unit(0.2)
    picture = step_picture(middle, normal, 1.0, 0.01)
    points = rough_points(middle, normal)
    settings = EdgeSettings(polarity=1)

    outward = locate_edges(picture, points, np.tile(normal, (240, 1)), 8.0, settings)
    inward = locate_edges(picture, points, np.tile(-normal, (240, 1)), 8.0, settings)

    assert len(outward.points_px) == 240
    assert len(inward.points_px) == 0


def test_plain_noise_and_the_frame_give_no_edges() -> None:
    """Points on an even surface or beside the frame are left out and flagged."""
    middle, normal = np.array([170.3, 150.7]), unit(0.0)
    picture = step_picture(middle, normal, 1.0, 0.01)
    points = np.array([[60.0, 100.0], [280.0, 100.0], [170.0, 150.0], [336.0, 20.0]])

    edge, kept = fit_edges(picture, points, np.tile(normal, (4, 1)), HALF_LENGTH_PX)

    assert kept.tolist() == [False, False, True, False]
    assert len(edge.points_px) == 1


def test_a_blur_beyond_the_limit_is_left_out() -> None:
    """An edge of 3 px blur fails a limit of 2 px."""
    middle, normal = np.array([170.3, 150.7]), unit(0.1)
    picture = step_picture(middle, normal, 3.0, 0.005)
    normals = np.tile(normal, (240, 1))
    points = rough_points(middle, normal)

    strict = locate_edges(picture, points, normals, 8.0, EdgeSettings(most_blur_px=2.0))

    assert len(strict.points_px) == 0


def test_no_points_give_no_edges() -> None:
    """An empty list of rough points is answered by an empty record."""
    picture = np.zeros((20, 20), dtype=np.float32)

    edge = locate_edges(picture, np.zeros((0, 2)), np.zeros((0, 2)), 5.0)

    assert edge.points_px.shape == (0, 2)


def test_a_blurred_step_is_exact_to_a_ten_millionth() -> None:
    """The handbook states an error below 7.5e-8 (Abramowitz and Stegun, 26.2.17)."""
    z = np.linspace(-9.0, 9.0, 1801)

    share, bell = blurred_step(z)

    assert np.max(np.abs(share - ndtr(z))) < 7.5e-8
    assert np.max(np.abs(bell - np.exp(-0.5 * z**2))) < 1e-15
