"""A lens file gives back what was written, and is refused when it cannot be."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.lens import load_lens, save_lens
from calib.records import Lens
from tests.calib.chessboards import refusal

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
