"""Shims: what restores a load or a height, and what it costs."""

import pytest

from tests.vision.inspection.figures import sure, unsure
from vision.inspection.shim import shim_for_height, shim_for_load

RATE = unsure(40.0, 2.0, "N/mm")


def test_shim_makes_up_the_missing_force() -> None:
    """F' = F + R t: 30 N at 40 N/mm takes 0.75 mm, off the clearance of 3 mm."""
    shim = shim_for_load(unsure(30.0, 4.0, "N"), RATE, unsure(3.0, 0.2))

    assert shim.thickness.value == pytest.approx(0.75)
    assert shim.thickness.expanded == pytest.approx((0.1**2 + 0.0375**2) ** 0.5)
    assert shim.clearance.value == pytest.approx(2.25)
    assert shim.usable
    assert "not a cure for a tired spring" in shim.text


def test_shim_beyond_practice_is_not_usable() -> None:
    """80 N take 2 mm; common practice ends at 1.5 mm (0.060 in)."""
    shim = shim_for_load(unsure(80.0, 4.0, "N"), RATE, unsure(6.0, 0.2))

    assert not shim.usable
    assert "common practice is 1.50 mm (0.0591 in) at most" in shim.text


def test_shim_that_brings_coil_bind_near_is_not_usable() -> None:
    """1 mm off a clearance of 2 mm leaves less than 1.5 mm."""
    shim = shim_for_load(unsure(40.0, 2.0, "N"), RATE, unsure(2.0, 0.1))

    assert not shim.usable
    assert "common practice is at least 1.50 mm" in shim.text


def test_clearance_known_too_roughly_leaves_the_shim_open() -> None:
    """0.8 ± 2.5 mm left: neither room nor the lack of it is proven."""
    shim = shim_for_load(unsure(40.0, 2.0, "N"), RATE, unsure(2.0, 2.5))

    assert not shim.usable
    assert not shim.ruled_out


def test_shim_with_unknown_clearance_is_not_usable() -> None:
    """Nobody knows how near coil bind is: measure that first."""
    shim = shim_for_load(unsure(20.0, 2.0, "N"), RATE, None)

    assert not shim.usable
    assert "measure that first" in shim.text


@pytest.mark.parametrize("missing", [0.0, -5.0])
def test_no_shim_where_no_force_is_missing(missing: float) -> None:
    """A strong spring needs none."""
    assert shim_for_load(sure(missing, "N"), RATE, None) is None


def test_shim_for_a_tall_installed_height() -> None:
    """39.7 against 38.9 mm takes 0.8 mm; it is no tired spring, so no word of that."""
    shim = shim_for_height(unsure(39.7, 0.15), sure(38.9, "mm"), unsure(3.0, 0.2))

    assert shim.thickness.value == pytest.approx(0.8)
    assert "tired" not in shim.text


def test_no_shim_below_the_measurements_own_u() -> None:
    """0.12 mm too tall with U 0.15 mm is nothing to shim."""
    assert shim_for_height(unsure(39.02, 0.15), sure(38.9, "mm"), None) is None
