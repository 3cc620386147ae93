"""A known lens is found again, and photos that cannot give one are refused."""

from dataclasses import replace

import numpy as np
import pytest

from calib.lens import solve_lens
from calib.lens.fitting import fit_views
from calib.lens.views import View, see_board
from calib.records import Photo
from tests.calib.chessboards import (
    BOARD,
    TrueLens,
    corners_mm,
    draw_board,
    noisy_views,
    poses,
    project,
)

TRUE = TrueLens()
# A drawn corner is found to the noise of 8-bit rounding and the box pixel.
CORNER_PX = 0.05


@pytest.fixture(scope="module")
def drawn() -> list[Photo]:
    return [
        draw_board(TRUE, pose, f"board{at}.jpg") for at, pose in enumerate(poses(9))
    ]


def test_drawn_corners_are_found_to_a_fraction_of_a_pixel(drawn: list[Photo]) -> None:
    """(0, 0) is the centre of the top left pixel: half a pixel off would show."""
    for photo, pose in zip(drawn, poses(9), strict=True):
        view = see_board(photo, BOARD)

        assert view is not None
        truth = project(TRUE, pose, corners_mm())
        order = truth if _near(view, truth) else truth[::-1]  # either end may be first
        misses = view.corners_px - order
        assert np.sqrt(np.mean(misses**2)) < CORNER_PX
        assert np.abs(misses.mean(axis=0)).max() < CORNER_PX / 2


def _near(view: View, truth: np.ndarray) -> bool:
    return bool(np.abs(view.corners_px[0] - truth[0]).max() < 10)


def test_a_large_picture_is_searched_small_and_refined_whole() -> None:
    """The way back from the reduced picture keeps the pixel centres."""
    large = TrueLens(size_px=(1720, 1290), focal_px=1600.0, centre_px=(871.0, 632.5))
    pose = poses(1)[0]

    view = see_board(draw_board(large, pose, "large.jpg"), BOARD)

    assert view is not None
    truth = project(large, pose, corners_mm())
    misses = view.corners_px - (truth if _near(view, truth) else truth[::-1])
    assert np.sqrt(np.mean(misses**2)) < CORNER_PX


def test_a_deep_picture_shows_the_same_corners(drawn: list[Photo]) -> None:
    """16 bits per channel are read as well."""
    deep = replace(drawn[0], rgb=drawn[0].rgb.astype(np.uint16) * 257)

    first, second = see_board(drawn[0], BOARD), see_board(deep, BOARD)

    assert first is not None
    assert second is not None
    assert np.array_equal(first.corners_px, second.corners_px)


def test_a_drawn_lens_is_found_again(drawn: list[Photo]) -> None:
    """Each value lies within U (k = 2), and the focal length within a thousandth."""
    lens = solve_lens(iter(drawn), BOARD.columns, BOARD.rows, BOARD.pitch_mm)

    assert lens.camera == "Invented No. 1"
    assert lens.views == 9
    assert lens.focal_length_mm == 5.7
    assert abs(lens.focal_px - TRUE.focal_px) < min(0.9, 2 * lens.focal_u_px)
    assert np.abs(np.subtract(lens.centre_px, TRUE.centre_px)).max() < 1.0
    assert abs(lens.k1 - TRUE.k1) < 2 * lens.k1_u
    assert abs(lens.k2 - TRUE.k2) < 2 * lens.k2_u
    assert lens.rms_px < CORNER_PX * np.sqrt(2)


def test_the_square_side_does_not_change_the_lens(drawn: list[Photo]) -> None:
    """Millimetres cancel; only the boards' distances scale."""
    first = solve_lens(drawn, BOARD.columns, BOARD.rows, 20.0)
    second = solve_lens(drawn, BOARD.columns, BOARD.rows, 31.4)

    assert first.focal_px == pytest.approx(second.focal_px, rel=1e-6)


def test_stated_uncertainty_matches_the_scatter() -> None:
    """Over 24 sets of noisy corners the errors are as large as u says.

    The mean square of error / u is chi-square of 24 over 24 when u is right: its root
    lies between 0.58 and 1.46 in 998 cases of 1000 (chi-square table, 0.1 % points
    8.09 and 51.18).
    """
    ratios = []
    for seed in range(24):
        fit = fit_views(noisy_views(TRUE, poses(8), 0.2, seed), BOARD)
        truth = np.array((TRUE.focal_px, *TRUE.centre_px, TRUE.k1, TRUE.k2))
        ratios.append((fit.values - truth) / fit.u)

    spread = np.sqrt(np.mean(np.square(ratios), axis=0))
    assert (spread > 0.58).all()
    assert (spread < 1.46).all()


def test_a_decentred_lens_widens_the_uncertainty() -> None:
    """Tangential terms stay out of the lens, so that what they move is in u."""
    views = noisy_views(TRUE, poses(10), 0.05, 3)
    bent = [replace(view, corners_px=_decentred(view.corners_px)) for view in views]

    plain, odd = fit_views(views, BOARD), fit_views(bent, BOARD)

    moved = np.abs(odd.values[1:3] - TRUE.centre_px)
    assert (odd.u[1:3] > 2 * plain.u[1:3]).any()
    assert (moved < 3 * odd.u[1:3]).all()


def _decentred(corners_px: np.ndarray, p1: float = 0.002) -> np.ndarray:
    """Add p1 (r^2 + 2 y^2) in y and 2 p1 x y in x (Brown 1966)."""
    x, y = ((corners_px - TRUE.centre_px) / TRUE.focal_px).T
    moved = np.c_[2 * p1 * x * y, p1 * (x**2 + 3 * y**2)]
    return np.asarray(corners_px + moved * TRUE.focal_px)
