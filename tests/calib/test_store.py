"""Reference and calibration files: read, refused, written whole."""

import json
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.calibrate import calibrate
from calib.errors import OutputError, TargetError
from calib.records import Calibration, SquareCard, TrySquare
from calib.store import load_calibration, load_reference, save_calibration
from tests.calib.scene import CARD, Scene, reference, take_photo

SQUARE_TOML = """
kind = "try-square"
blade_mm = 100
stock_mm = 70.0
blade_width_mm = 20.0
stock_width_mm = 18.5
"""
CARD_TOML = """
kind = "square-card"
side_mm = 60.0
bottom_margin_mm = 8.0
expanded_uncertainty_mm = 0.2
face_offset_mm = 14.5
face_offset_uncertainty_mm = 0.5
"""


@cache
def calibration() -> Calibration:
    return calibrate(take_photo(Scene(shape=CARD)), reference(CARD))


def written(folder: Path, text: str) -> Path:
    path = folder / "ref.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_try_square_takes_the_usual_doubts_by_default(tmp_path: Path) -> None:
    """U 0.05 mm, face in the axis plane, U 1 mm about that."""
    found = load_reference(written(tmp_path, SQUARE_TOML))

    assert found.shape == TrySquare(
        blade_mm=100.0, stock_mm=70.0, blade_width_mm=20.0, stock_width_mm=18.5
    )
    assert found.expanded_uncertainty_mm == 0.05
    assert found.face_offset_mm == 0.0
    assert found.face_offset_uncertainty_mm == 1.0


def test_a_card_with_all_its_keys(tmp_path: Path) -> None:
    """Every key is taken as written."""
    found = load_reference(written(tmp_path, CARD_TOML))

    assert found.shape == SquareCard(side_mm=60.0, bottom_margin_mm=8.0)
    assert found.expanded_uncertainty_mm == 0.2
    assert found.face_offset_mm == 14.5
    assert found.face_offset_uncertainty_mm == 0.5


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("blade_mm = ", "is not TOML"),
        ("blade_mm = 100.0", "is no reference file: it states no kind"),
        (SQUARE_TOML + "blade_in = 3.5", "Give it in mm: blade_mm = 88.90"),
        (SQUARE_TOML + 'blade_in = "3.5"', "Give it as blade_mm, 25.4 for an inch"),
        ('kind = "ruler"', "kind is 'ruler'"),
        ("kind = 3", "kind is 3"),
        (SQUARE_TOML + "side_mm = 60.0", "side_mm = 60.0 is not a key of a try-square"),
        (SQUARE_TOML.replace("stock_mm = 70.0", ""), "stock_mm is missing"),
        (SQUARE_TOML.replace("100", "-100"), "blade_mm = -100 is not within 2 to 1000"),
        (SQUARE_TOML.replace("100", "inf"), "blade_mm = inf is not within"),
        (SQUARE_TOML.replace("100", "nan"), "blade_mm = nan is not within"),
        (SQUARE_TOML.replace("100", '"100"'), "blade_mm = '100' is not a number"),
        (SQUARE_TOML.replace("100", "true"), "blade_mm = True is not a number"),
        (SQUARE_TOML.replace("100", "15"), "blade_mm = 15 is not longer than stock_wi"),
        (CARD_TOML.replace("8.0", "-1.0"), "bottom_margin_mm = -1 is not within 0 to"),
        (CARD_TOML.replace("0.2", "-0.2"), "expanded_uncertainty_mm = -0.2 is not"),
        (CARD_TOML.replace("14.5", "1e4"), "face_offset_mm = 10000 is not within"),
    ],
)
def test_a_faulty_reference_file_is_refused(
    tmp_path: Path, text: str, fault: str
) -> None:
    """File, key and value are named."""
    path = written(tmp_path, text)

    with pytest.raises(TargetError) as caught:
        load_reference(path)

    assert str(caught.value).startswith(f"{path}: ")
    assert fault in str(caught.value)


def test_a_missing_or_binary_reference_file_is_refused(tmp_path: Path) -> None:
    """Neither a missing file nor bytes that are no text show a traceback."""
    with pytest.raises(TargetError, match="cannot be read"):
        load_reference(tmp_path / "none.toml")
    path = tmp_path / "bytes.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TargetError, match="it holds no plain text"):
        load_reference(path)


@given(side=st.floats(2.0, 1000.0), margin=st.floats(0.0, 500.0))
def test_any_sensible_card_is_read_as_written(
    tmp_path_factory: pytest.TempPathFactory, side: float, margin: float
) -> None:
    """Written sizes come back exactly."""
    text = f'kind = "square-card"\nside_mm = {side!r}\nbottom_margin_mm = {margin!r}\n'
    path = written(tmp_path_factory.mktemp("card"), text)

    found = load_reference(path)

    assert found.shape == SquareCard(side_mm=side, bottom_margin_mm=margin)


def same(one: object, other: object) -> bool:
    """Tell whether two records agree to the last bit."""
    if isinstance(one, np.ndarray):
        return isinstance(other, np.ndarray) and np.array_equal(one, other)
    if isinstance(one, tuple) and isinstance(other, tuple):
        pairs = zip(one, other, strict=True)
        return len(one) == len(other) and all(same(a, b) for a, b in pairs)
    if is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, part.name), getattr(other, part.name))
            for part in fields(one)
        )
    return one == other


def test_a_calibration_comes_back_to_the_last_bit(tmp_path: Path) -> None:
    """Writing and reading is the identity."""
    path = tmp_path / "bench.calibration"

    save_calibration(calibration(), path)

    assert same(load_calibration(path), calibration())
    assert [each.name for each in tmp_path.iterdir()] == ["bench.calibration"]


def test_a_file_is_replaced_only_when_all_is_written(tmp_path: Path) -> None:
    """Where nothing can be written the old file stays, and no rest remains."""
    missing = tmp_path / "no" / "folder.calibration"

    with pytest.raises(OutputError, match="cannot be written"):
        save_calibration(calibration(), missing)

    assert list(tmp_path.iterdir()) == []


def damaged(text: str, how: str) -> str:
    """Spoil a calibration file in one of several ways."""
    if how == "cut":
        return text[: len(text) // 2]
    if how == "foreign":
        return '{"springs": []}'
    if how == "list":
        return "[1, 2]"
    data = json.loads(text)
    if how == "value":
        data["record"]["blur_px"] = 9.5
    if how == "newer":
        data["format"] = 2
    return json.dumps(data)


@pytest.mark.parametrize(
    ("how", "fault"),
    [
        ("cut", "is no calibration file"),
        ("foreign", "is no calibration file"),
        ("list", "is no calibration file"),
        ("value", "is damaged: its checksum does not fit"),
        ("newer", "has format 2, this program knows 1"),
    ],
)
def test_a_damaged_or_foreign_calibration_is_refused(
    tmp_path: Path, how: str, fault: str
) -> None:
    """Nothing is made of a file that is not exactly what was written."""
    path = tmp_path / "a.calibration"
    save_calibration(calibration(), path)
    path.write_text(damaged(path.read_text(encoding="utf-8"), how), encoding="utf-8")

    with pytest.raises(TargetError) as caught:
        load_calibration(path)

    assert fault in str(caught.value)
    assert str(caught.value).startswith(f"{path}: ")


def test_a_missing_or_binary_calibration_is_refused(tmp_path: Path) -> None:
    """A folder, a missing file or a picture are told apart from damage."""
    with pytest.raises(TargetError, match="cannot be read"):
        load_calibration(tmp_path / "none.calibration")
    path = tmp_path / "picture.jpg"
    path.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(TargetError, match="is no calibration file"):
        load_calibration(path)
