"""The command: photos in, a lens file and a few lines with uncertainties out."""

import json
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from calib.errors import LensError, PhotoError
from calib.lens import load_lens
from calib.records import Lens
from tests.calib.chessboards import BOARD, TrueLens, draw_board, poses
from vision.cli.lens import app, describe_lens

BOARD_OPTIONS = ["--columns", str(BOARD.columns), "--rows", str(BOARD.rows)]
BOARD_OPTIONS += ["--pitch-mm", "20"]


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    folder = tmp_path_factory.mktemp("boards")
    small = TrueLens(size_px=(640, 480), focal_px=600.0, centre_px=(323.0, 236.0))
    paths = []
    for at, pose in enumerate(poses(6)):
        path = folder / f"board{at}.png"
        Image.fromarray(draw_board(small, pose, path.name).rgb).save(path)
        paths.append(str(path))
    return paths


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def test_a_lens_file_is_written_and_described(
    tmp_path: Path, photos: list[str]
) -> None:
    """Exit code 0; each number has its unit and U, and the next step is named."""
    out = tmp_path / "lens.json"

    result = run(*photos, *BOARD_OPTIONS, "--out", str(out))

    assert result.exit_code == 0
    assert abs(load_lens(out).focal_px - 600) < 1
    assert "640 x 480 px, from 6 photos" in result.output
    assert "px (rms)" in result.output
    assert "U has k = 2" in result.output
    assert f"Wrote {out}. Give it with --lens" in result.output


def test_json_is_the_file_and_quiet_is_nothing(
    tmp_path: Path, photos: list[str]
) -> None:
    """Standard output holds one or nothing."""
    first, second = tmp_path / "a.json", tmp_path / "b.json"

    as_json = run(*photos, *BOARD_OPTIONS, "--out", str(first), "--json")
    quiet = run(*photos, *BOARD_OPTIONS, "--out", str(second), "--quiet")

    assert json.loads(as_json.output)["views"] == 6
    assert as_json.output == first.read_text(encoding="utf-8")
    assert quiet.output == ""
    assert load_lens(second) == load_lens(first)


def test_an_older_lens_file_is_kept_unless_told(
    tmp_path: Path, photos: list[str]
) -> None:
    """Nothing stored is lost."""
    out = tmp_path / "lens.json"
    out.write_text("older", encoding="utf-8")

    kept = run(*photos, *BOARD_OPTIONS, "--out", str(out))
    assert isinstance(kept.exception, LensError)
    assert "exists already" in str(kept.exception)
    assert out.read_text(encoding="utf-8") == "older"

    replaced = run(*photos, *BOARD_OPTIONS, "--out", str(out), "--replace")
    assert replaced.exit_code == 0
    assert load_lens(out).views == 6


def test_unusable_input_is_named(tmp_path: Path, photos: list[str]) -> None:
    """Too few photos, a missing photo, a missing folder: each its own sentence."""
    out = tmp_path / "lens.json"
    few = run(*photos[:3], *BOARD_OPTIONS, "--out", str(out))
    missing = run("none.jpg", *BOARD_OPTIONS, "--out", str(out))
    nowhere = run(*photos, *BOARD_OPTIONS, "--out", str(tmp_path / "no" / "lens.json"))

    assert isinstance(few.exception, LensError)
    assert isinstance(missing.exception, PhotoError)
    assert "has no folder to stand in" in str(nowhere.exception)
    assert not out.exists()


def test_missing_options_are_wrong_usage(photos: list[str]) -> None:
    """Exit code 2."""
    assert run(*photos).exit_code == 2


def test_the_description_shows_expanded_uncertainty() -> None:
    """U = 2 u, both digits as JCGM 100:2008, 7.2.6, has them."""
    solved = Lens(
        camera="Invented No. 1",
        size_px=(4000, 3000),
        focal_px=3004.44,
        focal_u_px=2.2,
        centre_px=(2003.1, 1497.8),
        centre_u_px=4.0,
        k1=-0.0123,
        k1_u=0.0004,
        k2=0.0312,
        k2_u=0.002,
        rms_px=0.31,
        views=14,
    )

    lines = describe_lens(solved, Path("lens.json"))

    assert lines[:7] == [
        "Invented No. 1, 4000 x 3000 px, from 14 photos",
        "  focal length          3004 ± 5 px",
        "  centre, from the left 2003 ± 8 px",
        "  centre, from the top  1498 ± 8 px",
        "  distortion k1         −0.0123 ± 0.0008",
        "  distortion k2         0.031 ± 0.004",
        "  corners miss by       0.31 px (rms)",
    ]
