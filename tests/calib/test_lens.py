"""A known lens is found again, and photos that cannot give one are refused."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.errors import LensError
from calib.lens import load_lens, save_lens, solve_lens
from calib.lens.checks import check_fit, check_views
from calib.lens.fitting import fit_views
from calib.lens.views import Board, View, see_board
from calib.records import Exif, Lens, Photo
from tests.calib.chessboards import (
    BOARD,
    CAMERA,
    TrueLens,
    corners_mm,
    draw_board,
    noisy_views,
    poses,
    project,
)

TRUE = TrueLens()
LENS = Lens(
    camera="Invented No. 1",
    size_px=(960, 720),
    focal_px=900.0,
    focal_u_px=1.2,
    centre_px=(487.3, 352.6),
    centre_u_px=1.5,
    k1=-0.12,
    k1_u=0.003,
    k2=0.05,
    k2_u=0.01,
    rms_px=0.12,
    views=12,
    focal_length_mm=5.7,
)
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
    large = TrueLens(size_px=(2000, 1500), focal_px=1875.0, centre_px=(1015.0, 734.5))
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
    """Over 16 sets of noisy corners the errors are as large as u says.

    The root mean square of error / u is 1 with a spread of 1/sqrt(32); the jackknife
    of 8 views and the greater of two kinds of u push it down (ratio 0.55 to 1.25).
    """
    ratios = []
    for seed in range(16):
        fit = fit_views(noisy_views(TRUE, poses(8), 0.2, seed), BOARD)
        truth = np.array((TRUE.focal_px, *TRUE.centre_px, TRUE.k1, TRUE.k2))
        ratios.append((fit.values - truth) / fit.u)

    spread = np.sqrt(np.mean(np.square(ratios), axis=0))
    assert (spread > 0.55).all()
    assert (spread < 1.25).all()


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


def refusal(call: object, *arguments: object) -> str:
    with pytest.raises(LensError) as caught:
        call(*arguments)  # type: ignore[operator]
    message = str(caught.value)
    assert message.endswith(".")
    assert "\n" not in message
    return message


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


@given(
    focal_px=st.floats(1e-3, 1e6),
    k1=st.floats(-5, 5),
    focal_length_mm=st.none() | st.floats(0.1, 1000),
    camera=st.text(max_size=30),
)
def test_reading_gives_back_what_was_written(
    tmp_path_factory: pytest.TempPathFactory,
    focal_px: float,
    k1: float,
    focal_length_mm: float | None,
    camera: str,
) -> None:
    """To the last bit."""
    path = tmp_path_factory.mktemp("lens") / "lens.json"
    lens = replace(
        LENS, focal_px=focal_px, k1=k1, focal_length_mm=focal_length_mm, camera=camera
    )

    save_lens(lens, path)

    assert load_lens(path) == lens
    assert [entry.name for entry in path.parent.iterdir()] == ["lens.json"]


def test_a_first_format_file_stays_readable() -> None:
    """Frozen when format 1 was made."""
    path = Path(__file__).parents[1] / "cases" / "lens" / "format-1.json"

    assert load_lens(path) == LENS


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"focal_px": 900.0', '"focal_px": -900.0', "has focal_px -900.0"),
        ('"focal_px": 900.0', '"focal_px": "wide"', "has focal_px 'wide'"),
        ('"focal_px": 900.0', '"focal_px": true', "has focal_px True"),
        ('"k1": -0.12', '"k1": NaN', "has k1 nan"),
        ('"k1_u": 0.003', '"k1_u": -1', "has k1_u -1"),
        ('"views": 12', '"views": 0', "has views 0"),
        ("960,", "960, 3,", "has size_px"),
        ('"focal_length_mm": 5.7', '"focal_length_mm": 0', "has focal_length_mm 0"),
        ('"format": 1', '"format": 2', "of format 2, newer than 1"),
        ('"$": "Lens"', '"$": "Mirror"', "holds a Mirror"),
        ('"rms_px"', '"rms_pixels"', "unknown"),
        ("{", "[", "is not JSON"),
    ],
)
def test_a_damaged_lens_file_is_refused(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    """The value and what to do; never a lens that cannot be."""
    path = tmp_path / "lens.json"
    save_lens(LENS, path)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")

    message = refusal(load_lens, path)

    assert message.startswith(f"{path}: ")
    assert words in message
    assert message.endswith("Make it again with the command lens.")


def test_unreadable_and_foreign_files_are_refused(tmp_path: Path) -> None:
    """Missing, binary, huge, or something else in JSON."""
    (tmp_path / "picture.json").write_bytes(b"\xff\xd8\xff\xe0" * 99)
    (tmp_path / "huge.json").write_bytes(b" " * 200_000)
    (tmp_path / "list.json").write_text("[1, 2]", encoding="utf-8")

    for name, words in (
        ("none.json", "cannot be read (no such file or directory)"),
        ("picture.json", "is not a text file"),
        ("huge.json", "is too large for a lens file"),
        ("list.json", "holds no lens"),
    ):
        assert words in refusal(load_lens, tmp_path / name)


def test_a_lens_file_that_cannot_be_written_leaves_the_old_one(tmp_path: Path) -> None:
    """A folder stands where the file should: nothing changes, no half file stays."""
    place = tmp_path / "lens.json"
    place.mkdir()

    assert "cannot be written" in refusal(save_lens, LENS, place)
    assert [entry.name for entry in tmp_path.iterdir()] == ["lens.json"]
