"""Linear light: the sRGB curve undone, and blown pixels marked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.photo import clipped, linear_grey, linear_rgb
from calib.photo.light import Pixels, decode_srgb, encode_srgb
from calib.records import Exif, Photo


def photo_of(rgb: Pixels) -> Photo:
    return Photo(name="a.png", sha256="", rgb=rgb, exif=Exif())


def picture(dtype: type = np.uint8, seed: int = 5) -> Pixels:
    high = np.iinfo(dtype).max
    levels = np.random.default_rng(seed).integers(0, high, (150, 210, 3), endpoint=True)
    return levels.astype(dtype)


@pytest.mark.parametrize(
    ("level", "light"),
    [(0, 0.0), (10, 10 / 255 / 12.92), (118, 0.1812), (188, 0.5029), (255, 1.0)],
)
def test_levels_follow_the_srgb_curve(level: int, light: float) -> None:
    """IEC 61966-2-1; 118 is the 18 % grey card, 188 half the light (handbooks)."""
    photo = photo_of(np.full((3, 4, 3), level, np.uint8))

    assert linear_grey(photo) == pytest.approx(light, abs=5e-5)
    assert linear_rgb(photo) == pytest.approx(light, abs=5e-5)


def test_luminance_weights() -> None:
    """Red, green and blue give 0.2126, 0.7152 and 0.0722 of white (ITU-R BT.709)."""
    photo = photo_of(np.diag([255, 255, 255]).astype(np.uint8)[None])

    assert linear_grey(photo)[0] == pytest.approx([0.2126, 0.7152, 0.0722], abs=1e-6)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_tables_agree_with_the_formula(dtype: type) -> None:
    """Every pixel, colour and luminance, in both depths."""
    pixels = picture(dtype)
    truth = decode_srgb(pixels / np.iinfo(dtype).max)

    grey, rgb = linear_grey(photo_of(pixels)), linear_rgb(photo_of(pixels))

    assert grey.dtype == rgb.dtype == np.float32
    np.testing.assert_allclose(rgb, truth, rtol=0, atol=1e-6)
    weights = np.array((0.2126, 0.7152, 0.0722))
    np.testing.assert_allclose(grey, truth @ weights, rtol=0, atol=1e-6)


def test_a_box_is_the_cut_of_the_whole() -> None:
    """Its far sides may lie outside the picture, its corner may not."""
    photo = photo_of(picture())
    for function in (linear_grey, linear_rgb, clipped):
        whole = np.asarray(function(photo))

        assert np.array_equal(function(photo, (30, 20, 77, 140)), whole[20:140, 30:77])
        assert np.array_equal(function(photo, (200, 9, 999, 999)), whole[9:, 200:])
        for box in ((-1, 0, 9, 9), (9, 9, 9, 20), (0, 160, 9, 170)):
            with pytest.raises(ValueError, match="does not lie in a picture"):
                function(photo, box)


def test_blown_pixels_are_marked_in_any_channel() -> None:
    """254 of 255 counts: compression rattles blown white by about a level."""
    pixels = np.full((1, 5, 3), 100, np.uint8)
    pixels[0, :, 1] = (253, 254, 255, 100, 240)
    pixels[0, 3] = (255, 0, 0)

    marks = clipped(photo_of(pixels))
    deep_marks = clipped(photo_of(pixels.astype(np.uint16) * 257))

    assert marks.tolist() == deep_marks.tolist() == [[False, True, True, True, False]]


@given(st.floats(0, 1))
def test_encoding_undoes_decoding(light: float) -> None:
    """To the rounding of the standard's printed constants."""
    there = encode_srgb(np.array([light]))

    assert decode_srgb(there)[0] == pytest.approx(light, abs=2e-7)
