"""Colour profiles and alpha become plain sRGB, or one clear sentence."""

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

from calib.errors import PhotoError
from calib.photo import read_photo
from tests.calib.photo_files import (
    ADOBE_GAMMA,
    ADOBE_XY,
    HEIGHT,
    JPEG_LEVELS,
    P3_XY,
    SRGB_XY,
    WIDTH,
    assert_corners,
    corner_picture,
    corner_pixels,
    crc,
    encoded,
    gamma_curve,
    grey_profile,
    matrix_profile,
    srgb_curve,
    write,
)


def test_cmyk_is_converted(tmp_path: Path) -> None:
    """Without a profile: R = (1 - C)(1 - K), as printers' primers have it."""
    data = encoded(corner_picture("CMYK"), "JPEG", quality=95)

    photo = read_photo(write(tmp_path, "a.jpg", data))

    assert_corners(photo.rgb, JPEG_LEVELS + 3)


def test_lab_is_converted(tmp_path: Path) -> None:
    """CIE 1976: sRGB level 119 (18 % of the light) is L* 50, a* = b* = 0."""
    lab = Image.merge("LAB", [Image.new("L", (WIDTH, HEIGHT), 128)] * 3)  # 128 is a* 0

    photo = read_photo(write(tmp_path, "a.tif", encoded(lab, "TIFF")))

    assert np.abs(photo.rgb[9, 9].astype(int) - 119).max() <= 2


def test_sixteen_bits_that_cannot_be_kept_are_remarked(tmp_path: Path) -> None:
    """Printer's colours are read with 8 of their 16 bits: half ink is half grey."""
    ink = np.zeros((HEIGHT, WIDTH, 4), np.uint16)
    ink[:, :, 3] = 32768
    out = io.BytesIO()
    tifffile.imwrite(out, ink, photometric="separated")

    photo = read_photo(write(tmp_path, "a.tif", out.getvalue()))

    assert photo.rgb.dtype == np.uint8
    assert np.abs(photo.rgb[9, 9].astype(int) - 127).max() <= 1
    assert photo.remarks == ("its 16 bits could be read only as 8",)


def test_display_p3_is_converted(tmp_path: Path) -> None:
    """CSS Color 4: sRGB red is P3 (0.917487 0.200287 0.138561), i.e. (234, 51, 35)."""
    pixels = np.full((HEIGHT, WIDTH, 3), (234, 51, 35), np.uint8)
    pixels[:100] = 128
    profile = matrix_profile(P3_XY, srgb_curve())
    data = encoded(Image.fromarray(pixels), "PNG", icc_profile=profile)

    photo = read_photo(write(tmp_path, "a.png", data))

    assert photo.remarks == ()
    assert np.abs(photo.rgb[200, 9].astype(int) - (255, 0, 0)).max() <= 2
    assert np.abs(photo.rgb[50, 9].astype(int) - 128).max() <= 1


def test_adobe_rgb_keeps_the_tone_curve_right(tmp_path: Path) -> None:
    """Grey 128 at gamma 2.19921875 is 0.2196 of linear light: sRGB level 129.

    Adobe RGB (1998) 4.3.4.2 and IEC 61966-2-1, by hand; a 16-bit picture too.
    """
    profile = matrix_profile(ADOBE_XY, gamma_curve(ADOBE_GAMMA))
    pixels = np.full((HEIGHT, WIDTH, 3), 128, np.uint8)
    out = io.BytesIO()
    deep = pixels.astype(np.uint16) * 257
    tifffile.imwrite(out, deep, photometric="rgb", iccprofile=profile)
    plain = encoded(Image.fromarray(pixels), "JPEG", icc_profile=profile)

    photo = read_photo(write(tmp_path, "a.jpg", plain))
    deep_photo = read_photo(write(tmp_path, "a.tif", out.getvalue()))

    assert tuple(photo.rgb[9, 9]) == (129, 129, 129)
    assert tuple(deep_photo.rgb[9, 9]) == (129, 129, 129)
    assert any("8 of its 16 bits" in remark for remark in deep_photo.remarks)


def test_grey_profile_is_converted(tmp_path: Path) -> None:
    """Grey 128 at gamma 1.0 is 0.502 of linear light: sRGB level 188."""
    picture = Image.fromarray(np.full((HEIGHT, WIDTH), 128, np.uint8))
    data = encoded(picture, "PNG", icc_profile=grey_profile(gamma_curve(1.0)))

    photo = read_photo(write(tmp_path, "a.png", data))

    assert np.abs(photo.rgb[9, 9].astype(int) - 188).max() <= 1


def test_an_srgb_profile_changes_nothing(tmp_path: Path) -> None:
    """Ours and the colour engine's own; 16 bits stay 16 bits."""
    engine = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for profile in (engine, matrix_profile(SRGB_XY, srgb_curve())):
        data = encoded(corner_picture(), "PNG", icc_profile=profile)
        out = io.BytesIO()
        deep = corner_pixels().astype(np.uint16) * 257 - 1
        tifffile.imwrite(out, deep, photometric="rgb", iccprofile=profile)

        photo = read_photo(write(tmp_path, "a.png", data))
        deep_photo = read_photo(write(tmp_path, "a.tif", out.getvalue()))

        assert np.array_equal(photo.rgb, corner_pixels())
        assert np.array_equal(deep_photo.rgb, deep)
        assert photo.remarks == deep_photo.remarks == ()


def test_a_broken_or_foreign_profile_is_remarked(tmp_path: Path) -> None:
    """The picture is still of use; it is taken as sRGB and says so."""
    for profile, words in (
        (b"not a profile" * 20, "broken"),
        (grey_profile(gamma_curve(1.0)), "another kind of picture"),
    ):
        data = encoded(corner_picture(), "PNG", icc_profile=profile)

        photo = read_photo(write(tmp_path, "a.png", data))

        assert np.array_equal(photo.rgb, corner_pixels())
        assert words in photo.remarks[0]


@pytest.mark.parametrize("transfer", [16, 18])
def test_hdr_tone_curves_are_refused(tmp_path: Path, transfer: int) -> None:
    """PQ is 16 and HLG 18 (ITU-T H.273, table 3), in a profile or a PNG chunk."""
    profile = matrix_profile(P3_XY, srgb_curve(), transfer=transfer)
    in_profile = encoded(corner_picture(), "JPEG", icc_profile=profile)
    plain = encoded(corner_picture(), "PNG")
    body = b"cICP" + bytes((9, transfer, 0, 1))
    chunk = b"\0\0\0\4" + body + crc(body)

    for data in (in_profile, plain[:33] + chunk + plain[33:]):
        with pytest.raises(PhotoError, match="HDR tone curve"):
            read_photo(write(tmp_path, "a.pic", data))


def test_rounded_corners_take_the_border_colour(tmp_path: Path) -> None:
    """A few see-through pixels show the backdrop's colour, not what is hidden there."""
    rgba = np.dstack((corner_pixels(), np.full((HEIGHT, WIDTH), 255, np.uint8)))
    rgba[:, :, :3] = 200
    rgba[:3, :3] = (255, 0, 255, 0)
    deep = np.ascontiguousarray(rgba[:, :, [2, 1, 0, 3]].astype(np.uint16) * 257)
    files = {
        "a.png": (encoded(Image.fromarray(rgba), "PNG"), 200),
        "b.png": (cv2.imencode(".png", deep)[1].tobytes(), 200 * 257),
    }

    for name, (data, level) in files.items():
        photo = read_photo(write(tmp_path, name, data))

        assert (photo.rgb == level).all(), name
        assert "transparent" in photo.remarks[0]


def test_full_alpha_is_dropped_silently(tmp_path: Path) -> None:
    """An alpha channel that hides nothing is no reason for a remark."""
    for kind in ("PNG", "TIFF"):
        data = encoded(corner_picture("RGBA"), kind)

        photo = read_photo(write(tmp_path, "a.pic", data))

        assert np.array_equal(photo.rgb, corner_pixels())
        assert photo.remarks == ()


def test_a_cut_out_is_refused(tmp_path: Path) -> None:
    """Its edges are somebody's mask, not the spring's."""
    rgba = np.dstack((corner_pixels(), np.zeros((HEIGHT, WIDTH), np.uint8)))
    rgba[100:200, 100:200, 3] = 255
    data = encoded(Image.fromarray(rgba), "PNG")

    with pytest.raises(PhotoError, match=r"a\.png: is a cut-out: 92% .* transparent"):
        read_photo(write(tmp_path, "a.png", data))


def test_palette_pictures_are_read(tmp_path: Path) -> None:
    """Screenshots come as palettes, with one colour declared transparent or not."""
    picture = corner_picture().quantize(16)
    plain = encoded(picture, "PNG")
    keyed = encoded(picture, "PNG", transparency=15)

    assert_corners(read_photo(write(tmp_path, "a.png", plain)).rgb, 6)
    assert_corners(read_photo(write(tmp_path, "b.png", keyed)).rgb, 6)
