"""A row photographed by a camera that says nothing: tests/cases/rows/SOURCE.md."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.calibrate import calibrate
from calib.photo import read_photo
from calib.records import Calibration, Exif
from calib.store import load_reference
from vision.pipeline import measure_row
from vision.records.measured import Characteristic, Row, SpringMeasurement

CASE = Path(__file__).parents[2] / "cases" / "rows" / "seven_backlit"

ROWS = slice(200, 940)  # of the picture, close about target and springs

pytestmark = [pytest.mark.reference, pytest.mark.slow]


@cache
def truth() -> dict[str, Any]:
    text = CASE.with_suffix(".truth.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


@cache
def measured(*, cut: bool = False) -> tuple[Calibration, Row]:
    """The target alone, and the row; cut out of its picture or not."""
    photo = replace(read_photo(CASE.with_suffix(".jpg")), exif=Exif())
    if cut:
        photo = replace(photo, rgb=np.ascontiguousarray(photo.rgb[ROWS]))
    calibration = calibrate(photo, load_reference(CASE.with_suffix(".reference.toml")))
    return calibration, measure_row(photo, calibration)


def focal_error(calibration: Calibration) -> float:
    """By how much the focal length is off, as a share, by its logarithm."""
    return abs(float(np.log(calibration.camera.focal_px / truth()["camera"]["f_px"])))


def test_the_row_tells_a_focal_length_that_was_guessed() -> None:
    """A lens of twice the guessed length: the target alone says nothing of it."""
    alone, row = measured()

    assert focal_error(alone) > 0.7
    assert focal_error(row.calibration) < 0.2
    assert not alone.focal_known
    assert not row.calibration.focal_cases


def test_heights_keep_their_promise_without_a_focal_length() -> None:
    """Free heights lie within U of the truth, and U is not much larger than with it."""
    _, row = measured()
    truths = sorted(truth()["springs"], key=lambda each: each["x_mm"])

    for spring, true in zip(row.springs, truths, strict=True):
        assert isinstance(spring, SpringMeasurement)
        height = spring.values[Characteristic.FREE_HEIGHT]
        assert abs(height.value - true["L0_mm"]) <= height.expanded < 0.25


def test_the_row_tells_where_the_axis_of_a_cut_picture_lies() -> None:
    """Heights hardly change where as much as a third of the picture is missing."""
    _, whole = measured()
    _, cut = measured(cut=True)

    for one, other in zip(whole.springs, cut.springs, strict=True):
        assert isinstance(one, SpringMeasurement)
        assert isinstance(other, SpringMeasurement)
        height, again = (
            each.values[Characteristic.FREE_HEIGHT] for each in (one, other)
        )
        assert abs(again.value - height.value) < 0.03
        assert again.expanded < 1.3 * height.expanded
    assert focal_error(cut.calibration) < 0.2
    assert any("cut out of a larger picture" in each for each in cut.warnings)
