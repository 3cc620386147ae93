"""Chessboard photos that cannot give a lens are refused, and the reason named."""

from dataclasses import replace

import numpy as np
import pytest

from calib.lens import solve_lens
from calib.lens.checks import check_fit, check_views
from calib.lens.fitting import fit_views
from calib.lens.views import Board
from calib.records import Exif, Photo
from tests.calib.chessboards import (
    BOARD,
    CAMERA,
    TrueLens,
    draw_board,
    noisy_views,
    poses,
    refusal,
)

TRUE = TrueLens()


@pytest.fixture(scope="module")
def drawn() -> list[Photo]:
    return [
        draw_board(TRUE, pose, f"board{at}.jpg") for at, pose in enumerate(poses(3))
    ]


def test_too_few_photos_are_refused() -> None:
    """Four are one short of the least."""
    assert "only 4, and 5 is the least" in refusal(
        check_views, noisy_views(TRUE, poses(4), 0.1, 1)
    )


def test_the_same_photo_twice_is_refused() -> None:
    """It would count as evidence that it is not."""
    views = noisy_views(TRUE, poses(6), 0.1, 1)
    views[4] = replace(views[0], name="copy.jpg")

    message = refusal(check_views, views)

    assert "is the same picture as" in message
    assert "copy.jpg" in message


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"size_px": (720, 960)},
            "has the size 720x960 px, and board0.jpg has 960x720",
        ),
        ({"exif": replace(CAMERA, model="No. 2")}, "has the camera Invented No. 2"),
        ({"exif": replace(CAMERA, focal_length_mm=9.0)}, "has the focal length 9 mm"),
        ({"exif": replace(CAMERA, digital_zoom=2.0)}, "has the digital zoom 2, and"),
        ({"exif": Exif()}, "has the camera unknown model"),
    ],
)
def test_mixed_photos_are_refused(change: dict[str, object], words: str) -> None:
    """One camera, one zoom, one size; the odd photo is named."""
    views = noisy_views(TRUE, poses(6), 0.1, 1)
    views[3] = replace(views[3], **change)  # type: ignore[arg-type]

    message = refusal(check_views, views)

    assert message.startswith("board3.jpg: ")
    assert words in message


def test_boards_only_in_the_middle_are_refused() -> None:
    """Distortion grows towards the border, where nothing was seen."""
    far = [pose * (1, 1, 1, 3) for pose in poses(6)]

    assert "of the height, and 60% is the least" in refusal(
        check_views, noisy_views(TRUE, far, 0.1, 1)
    )


def test_boards_tilted_alike_are_refused() -> None:
    """Frontal boards leave focal length and distance exchangeable."""
    views = noisy_views(TRUE, poses(8, tilt_deg=6.0), 0.1, 1)

    message = refusal(check_fit, fit_views(views, BOARD), views)

    assert "too much alike" in message
    assert "Tilt the board by 20° to 40°" in message


def test_a_focal_length_worse_than_the_cameras_own_record_is_refused() -> None:
    """Corners off by 3 px leave it worse than one per cent."""
    views = noisy_views(TRUE, poses(5), 0.1, 1)
    fit = fit_views(views, BOARD)

    message = refusal(check_fit, replace(fit, u=fit.values * 0.02), views)

    assert "the focal length is known to 2.0% (u), and 1% is the limit" in message


def test_one_photo_that_does_not_fit_is_named() -> None:
    """A bent board or a shaken camera is not averaged away."""
    views = noisy_views(TRUE, poses(9), 0.1, 1)
    x, y = views[6].corners_px.T
    views[6] = replace(views[6], corners_px=np.c_[x, y + 1e-4 * (x - 480) ** 2])

    message = refusal(check_fit, fit_views(views, BOARD), views)

    assert message.startswith("board6.jpg: does not fit the others")


def test_corners_that_miss_everywhere_are_refused() -> None:
    """0.5 px is the limit on a picture of 960 px."""
    views = noisy_views(TRUE, poses(12), 0.9, 1)

    message = refusal(check_fit, fit_views(views, BOARD), views)

    assert "do not fit one lens" in message
    assert "0.50 px is the limit" in message


def test_photos_without_the_board_are_named(drawn: list[Photo]) -> None:
    """Nothing is left out silently; three names are enough for a sentence."""
    blank = [
        replace(drawn[0], name=f"blank{at}.jpg", rgb=np.full_like(drawn[0].rgb, 99))
        for at in range(5)
    ]

    one = refusal(solve_lens, [*drawn[:3], blank[0]], 8, 5, 20.0)
    many = refusal(solve_lens, blank, 8, 5, 20.0)

    assert one.startswith("blank0.jpg: no chessboard of 8 x 5 inner corners is found")
    assert many.startswith("blank0.jpg, blank1.jpg, blank2.jpg and 2 more: ")


@pytest.mark.parametrize(
    "board",
    [
        Board(columns=2, rows=5, pitch_mm=20.0),
        Board(columns=8, rows=61, pitch_mm=20.0),
        Board(columns=8, rows=5, pitch_mm=0.0),
        Board(columns=8, rows=5, pitch_mm=float("nan")),
    ],
)
def test_impossible_boards_are_refused(board: Board) -> None:
    """Before any photo is opened."""
    assert refusal(
        solve_lens, iter(()), board.columns, board.rows, board.pitch_mm
    ).startswith("chessboard: has")
