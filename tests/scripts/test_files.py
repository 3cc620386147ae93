"""Files beside a picture say what was rendered; pixels turn as EXIF says."""

import io
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from scripts.rendering.develop import Pixels, bend_tones, encode_srgb, store_turned
from scripts.rendering.files import (
    make_exif,
    spring_facts,
    write_limits,
    write_reference,
)
from scripts.rendering.records import SpringTruth
from scripts.rendering.sets_well import backlit_dark, harrow_row


def test_reference_file_states_what_the_owner_knows(tmp_path: Path) -> None:
    """It holds stated sizes, not the actual ones."""
    placed = harrow_row()[0].target
    assert placed is not None

    write_reference(tmp_path / "r.toml", placed)

    facts = tomllib.loads((tmp_path / "r.toml").read_text())
    assert facts["kind"] == "try-square"
    assert facts["blade_mm"] == 90.0
    assert facts["face_offset_uncertainty_mm"] == 1.0


def test_limits_file_carries_units(tmp_path: Path) -> None:
    """Limits are written as a number with its unit."""
    write_limits(tmp_path / "s.toml", harrow_row()[0].limits)

    facts = tomllib.loads((tmp_path / "s.toml").read_text())
    assert facts["free_height"] == {"min": "47.1 mm", "max": "48.3 mm"}


def test_truth_gives_squareness_as_the_end_centres_offset() -> None:
    """e1 = (L0 - d) tan(lean), and its parts are the lean's parts."""
    placed = harrow_row()[0].springs[6]
    truth = SpringTruth(
        free_height_mm=47.64,
        outside_bottom_mm=30.2,
        outside_middle_mm=30.2,
        outside_top_mm=30.2,
        top_rim_radius_mm=15.1,
        bottom_rim_radius_mm=15.1,
        lean_x_mm=1.05,
        lean_y_mm=2.45,
        unparallel_mm=0.0,
    )

    facts = spring_facts(7, placed, truth)

    lean = np.tan(np.radians(facts["lean_deg"]))
    assert facts["e1_mm"] == pytest.approx((47.64 - 4.2) * lean, abs=2e-4)
    assert facts["e1_mm"] == pytest.approx(np.hypot(1.05, 2.45), abs=1e-4)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_stored_pixels_turn_back_upright(orientation: int) -> None:
    """A reader that obeys EXIF sees the upright picture again."""
    upright: Pixels = np.zeros((40, 64, 3), dtype=np.uint8)
    upright[:8, :16] = 255
    scene = backlit_dark()[0]
    scene = replace(
        scene, development=replace(scene.development, orientation=orientation)
    )
    stored = store_turned(upright, orientation)
    file = io.BytesIO()
    exif = make_exif(scene, stored.shape[1], stored.shape[0])
    Image.fromarray(stored).save(file, format="png", exif=exif)

    seen = np.asarray(ImageOps.exif_transpose(Image.open(file)))

    np.testing.assert_array_equal(seen, upright)


def test_exif_rounds_the_focal_length_as_phones_do() -> None:
    """FocalLengthIn35mmFilm is a whole number; sizes are those of the stored pixels."""
    scene = harrow_row()[0]

    detail = make_exif(scene, 4000, 3000).get_ifd(0x8769)

    assert detail[0xA405] == scene.exif.focal_35mm
    assert (detail[0xA002], detail[0xA003]) == (4000, 3000)


@pytest.mark.reference
def test_srgb_curve() -> None:
    """IEC 61966-2-1: linear 0.18 is coded 0.4613, 0.002 is coded 12.92 times."""
    coded = encode_srgb(np.array([0.0, 0.002, 0.18, 1.0]))

    np.testing.assert_allclose(coded, [0.0, 0.02584, 0.4613, 1.0], rtol=0.0, atol=1e-4)


def test_tone_curve_keeps_its_ends() -> None:
    """The mild S-curve leaves black, middle and white where they are."""
    np.testing.assert_allclose(bend_tones(np.array([0.0, 0.5, 1.0]), 0.3), [0, 0.5, 1])
