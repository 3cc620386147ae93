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

pytestmark = [pytest.mark.reference, pytest.mark.slow]


@cache
def truth() -> dict[str, Any]:
    text = CASE.with_suffix(".truth.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


@cache
def measured() -> tuple[Calibration, Row]:
    """The target alone, and the row."""
    photo = replace(read_photo(CASE.with_suffix(".jpg")), exif=Exif())
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
