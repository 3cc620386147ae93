"""Path-traced rows against the solids that they show: tests/cases/rows/SOURCE.md."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.calibrate import calibrate
from calib.photo import read_photo
from calib.quantity import difference
from calib.records import Photo
from calib.store import load_reference
from vision.pipeline import measure_row
from vision.records.measured import Characteristic, Row, SpringMeasurement

CASES = Path(__file__).parents[1] / "cases" / "rows"
NAMES = ("four_bright", "seven_backlit")
HEIGHT_MM, LEAN_DEG, DIAMETER_MM = 0.15, 0.3, 0.15
UNSEEN_LEAN_DEG = 2.3  # two u of the lean in depth that one view allows for

pytestmark = pytest.mark.reference


def as_taken(photo: Photo) -> Photo:
    """Give a strip the shape of its camera's pictures, with its own first and last row.

    Strips were rendered to save room; the lens's axis lies in the middle of either.
    """
    width, height = photo.size_px
    added = width * 3 // 4 - height
    rgb = np.pad(
        photo.rgb, ((added // 2, added - added // 2), (0, 0), (0, 0)), mode="edge"
    )
    smaller = np.hypot(width, height) / np.hypot(width, height + added)
    film_mm = photo.exif.focal_length_35mm
    assert film_mm is not None
    exif = replace(
        photo.exif,
        focal_length_35mm=film_mm * float(smaller),
        recorded_size_px=(width, height + added),
    )
    return replace(photo, rgb=rgb, exif=exif)


@cache
def measured(name: str, *, strip: bool = False) -> Row:
    photo = read_photo(CASES / f"{name}.jpg")
    photo = photo if strip else as_taken(photo)
    reference = load_reference(CASES / f"{name}.reference.toml")
    return measure_row(photo, calibrate(photo, reference))


def springs_of(name: str) -> list[tuple[SpringMeasurement, dict[str, Any]]]:
    """Measured springs beside their truth, left to right; all must be measured."""
    text = (CASES / f"{name}.truth.json").read_text(encoding="utf-8")
    truths = sorted(json.loads(text)["springs"], key=lambda each: each["x_mm"])
    springs = measured(name).springs
    assert len(springs) == len(truths)
    pairs = []
    for spring, truth in zip(springs, truths, strict=True):
        assert isinstance(spring, SpringMeasurement)
        pairs.append((spring, truth))
    return pairs


def leans_unseen(truth: dict[str, Any]) -> bool:
    """Tell whether a spring leans towards the lens by more than one view allows for."""
    return abs(float(truth["lean_y_deg"])) > UNSEEN_LEAN_DEG


@pytest.mark.parametrize("name", NAMES)
def test_a_strip_is_taken_for_cut_out_and_measured_inside_its_u(name: str) -> None:
    """No camera takes a strip: where its lens's axis lies is open, and U says so."""
    row, whole = measured(name, strip=True), measured(name)

    for spring, (other, truth) in zip(row.springs, springs_of(name), strict=True):
        assert isinstance(spring, SpringMeasurement)
        height = spring.values[Characteristic.FREE_HEIGHT]
        before = other.values[Characteristic.FREE_HEIGHT]
        assert abs(height.value - truth["L0_mm"]) <= height.expanded
        assert height.expanded > 0.9 * before.expanded
    assert any("cut out of a larger picture" in each for each in row.warnings)
    assert not any("cut out of a larger picture" in each for each in whole.warnings)


CHECKS = {
    Characteristic.FREE_HEIGHT: ("L0_mm", HEIGHT_MM),
    Characteristic.LEAN: ("lean_x_deg", LEAN_DEG),
    Characteristic.OUTSIDE_DIAMETER: ("De_middle_mm", DIAMETER_MM),
}


VALUES = [
    pytest.param(characteristic, name, id=f"{characteristic.key}-{name}")
    for characteristic in CHECKS
    for name in NAMES
]


@pytest.mark.parametrize(("characteristic", "name"), VALUES)
def test_values_of_every_spring(name: str, characteristic: Characteristic) -> None:
    """Every spring's value is near the truth, and the truth lies inside its U."""
    key, most = CHECKS[characteristic]

    for spring, truth in springs_of(name):
        value = spring.values[characteristic]
        if characteristic is Characteristic.LEAN and leans_unseen(truth):
            continue
        assert value.value == pytest.approx(truth[key], abs=most)
        assert abs(value.value - truth[key]) <= value.expanded


@pytest.mark.parametrize("name", NAMES)
def test_heights_compare_within_the_row(name: str) -> None:
    """Differences of height lie inside their own U, which is the smaller one."""
    pairs = springs_of(name)
    first, first_truth = pairs[0]
    height = first.values[Characteristic.FREE_HEIGHT]

    for spring, truth in pairs[1:]:
        apart = difference(spring.values[Characteristic.FREE_HEIGHT], height)
        expected = truth["L0_mm"] - first_truth["L0_mm"]
        assert abs(apart.value - expected) <= apart.expanded


@pytest.mark.parametrize("name", NAMES)
def test_turns_of_the_wire_are_counted(name: str) -> None:
    """Total coils within half a coil (k = 2)."""
    for spring, truth in springs_of(name):
        coils = spring.values[Characteristic.TOTAL_COILS]
        assert abs(coils.value - truth["nt"]) <= coils.expanded
