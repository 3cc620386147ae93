"""Spoilt pictures are refused, or the spoilt springs are named and left out."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from calib.errors import MeasureError
from vision.cli.measure import app

SPOILT = Path(__file__).resolve().parents[2] / "sample_images" / "spoilt"


def _measured(name: str, folder: Path) -> list[dict[str, object]]:
    out = folder / "out.json"
    photo, reference = SPOILT / f"{name}.jpg", SPOILT / f"{name}.reference.toml"
    words = (photo, "--reference", reference, "--json", out, "--quiet")
    result = CliRunner().invoke(app, [str(word) for word in words])
    if isinstance(result.exception, MeasureError):
        raise result.exception
    springs: list[dict[str, object]] = json.loads(out.read_text())["springs"]
    return springs


def test_a_blurred_picture_is_refused_with_its_figures(tmp_path: Path) -> None:
    """The blur and what is allowed."""
    with pytest.raises(MeasureError, match=r"blurred.* px, at most .* px"):
        _measured("blurred", tmp_path)


def test_a_spring_cut_off_by_the_frame_is_named(tmp_path: Path) -> None:
    """The eighth; the other seven are measured."""
    springs = _measured("cut_off", tmp_path)

    left_out = {
        one["position"]: one["unmeasured"] for one in springs if "detail" in one
    }
    assert len(springs) == 8
    assert list(left_out) == [8]
    assert "cut off" in str(left_out[8])


def test_springs_that_touch_are_named_both(tmp_path: Path) -> None:
    """The first and the second; they are not taken for one wide spring."""
    springs = _measured("touching", tmp_path)

    left_out = {
        one["position"]: one["unmeasured"] for one in springs if "detail" in one
    }
    assert len(springs) == 8
    assert list(left_out) == [1, 2]
    assert "touches" in str(left_out[1])
