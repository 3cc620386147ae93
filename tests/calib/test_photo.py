"""Each file format becomes the same upright sRGB picture, or one clear sentence."""

import hashlib
import io
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from calib.errors import PhotoError
from calib.photo import read_photo
from tests.calib.photo_files import (
    CORNERS,
    EXACT,
    HEIC_CASES,
    HEIGHT,
    JPEG_LEVELS,
    WIDTH,
    assert_corners,
    corner_picture,
    corner_pixels,
    corners_of,
    deep_png,
    deep_tiff,
    encoded,
    lzw_tiff,
    stored_for,
    with_pillow,
    write,
)


@pytest.mark.parametrize(
    ("name", "kind", "options", "tolerance"),
    [
        ("a.jpg", "JPEG", {"quality": 95}, JPEG_LEVELS),
        ("a.jpeg", "JPEG", {"quality": 95, "progressive": True}, JPEG_LEVELS),
        ("a.jpg", "MPO", {"quality": 95, "save_all": True}, JPEG_LEVELS),
        ("a.png", "PNG", {}, EXACT),
        ("a.tif", "TIFF", {}, EXACT),
        ("a.tif", "TIFF", {"compression": "tiff_lzw"}, EXACT),
        ("a.tif", "TIFF", {"compression": "jpeg", "quality": 95}, JPEG_LEVELS + 2),
        ("misnamed.jpg", "PNG", {}, EXACT),
    ],
)
def test_eight_bit_colour_is_read(
    tmp_path: Path, name: str, kind: str, options: dict[str, Any], tolerance: int
) -> None:
    """The content counts, not the suffix; identity is the sha256 of the bytes."""
    data = encoded(corner_picture(), kind, **options)

    photo = read_photo(write(tmp_path, name, data))

    assert photo.name == name
    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    assert photo.size_px == (WIDTH, HEIGHT)
    assert photo.rgb.dtype == np.uint8
    assert photo.remarks == ()
    assert_corners(photo.rgb, tolerance)


def test_pixels_are_contiguous_and_read_only(tmp_path: Path) -> None:
    """Nobody downstream can change the evidence."""
    photo = read_photo(write(tmp_path, "a.png", encoded(corner_picture(), "PNG")))

    assert photo.rgb.flags.c_contiguous
    with pytest.raises(ValueError, match="read-only"):
        photo.rgb[0, 0] = 0


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "TIFF16", "PNG16", "LZW16"])
def test_every_orientation_stands_up(
    tmp_path: Path, kind: str, orientation: int
) -> None:
    """The four corners come out where the camera saw them."""
    stored = stored_for(orientation, corner_pixels())
    data = {
        "JPEG": lambda: with_pillow(stored, "JPEG", orientation, quality=95),
        "PNG": lambda: with_pillow(stored, "PNG", orientation),
        "TIFF": lambda: with_pillow(stored, "TIFF", orientation),
        "TIFF16": lambda: deep_tiff(stored, orientation),
        "PNG16": lambda: deep_png(stored, orientation),
        "LZW16": lambda: lzw_tiff(stored, orientation),
    }[kind]()

    photo = read_photo(write(tmp_path, "a.pic", data))

    assert photo.size_px == (WIDTH, HEIGHT)
    assert photo.exif.orientation == orientation
    full = 65535 if kind.endswith("16") else 255
    assert_corners(photo.rgb, JPEG_LEVELS if kind == "JPEG" else EXACT, full)


def test_sixteen_bits_are_kept(tmp_path: Path) -> None:
    """Levels between two 8-bit steps survive in PNG and TIFF, grey and colour."""
    ramp = np.linspace(0, 65535, WIDTH * HEIGHT).astype(np.uint16)
    grey = ramp.reshape(HEIGHT, WIDTH)
    colour = np.dstack((grey, grey[::-1], grey[:, ::-1]))
    out = io.BytesIO()
    tifffile.imwrite(out, np.moveaxis(colour, -1, 0), photometric="rgb")
    files = {
        "grey.png": (encoded(Image.fromarray(grey), "PNG"), np.dstack([grey] * 3)),
        "colour.png": (
            cv2.imencode(".png", np.ascontiguousarray(colour[:, :, ::-1]))[1].tobytes(),
            colour,
        ),
        "planar.tif": (out.getvalue(), colour),
        "grey.tif": (encoded(Image.fromarray(grey), "TIFF"), np.dstack([grey] * 3)),
        "lzw.tif": (
            encoded(Image.fromarray(grey), "TIFF", compression="tiff_lzw"),
            np.dstack([grey] * 3),
        ),
    }

    for name, (data, truth) in files.items():
        photo = read_photo(write(tmp_path, name, data))

        assert photo.rgb.dtype == np.uint16, name
        assert np.array_equal(photo.rgb, truth), name


def test_inverted_tiff_is_turned_over(tmp_path: Path) -> None:
    """Scanners write white as 0 and say so (TIFF 6.0, PhotometricInterpretation)."""
    negative = np.full((HEIGHT, WIDTH), 65535, np.uint16)
    negative[:50] = 0
    out = io.BytesIO()
    tifffile.imwrite(out, negative, photometric="miniswhite")

    photo = read_photo(write(tmp_path, "a.tif", out.getvalue()))

    assert tuple(photo.rgb[10, 10]) == (65535,) * 3
    assert tuple(photo.rgb[200, 10]) == (0,) * 3


def test_grey_becomes_three_equal_channels(tmp_path: Path) -> None:
    """8-bit and 1-bit grey."""
    for mode in ("L", "1", "LA"):
        picture = corner_picture("L").convert(mode)

        photo = read_photo(write(tmp_path, "a.png", encoded(picture, "PNG")))

        assert np.array_equal(photo.rgb[:, :, 0], photo.rgb[:, :, 2])
        assert np.array_equal(photo.rgb[:, :, 1], np.asarray(picture.convert("L")))


@pytest.mark.parametrize(
    ("name", "stands", "remark"),
    [
        ("upright", False, None),
        ("turned", True, None),
        ("tag_only", True, "turned by its Exif record"),
        ("stale_tag", True, None),
        ("undecided", False, "two ways"),
    ],
)
def test_heic_is_read(name: str, stands: bool, remark: str | None) -> None:
    """The file's own turn counts; the Exif tag only where the file has none."""
    pytest.importorskip("pi_heif")

    photo = read_photo(HEIC_CASES / f"{name}.heic")

    order = (2, 0, 3, 1) if stands else (0, 1, 2, 3)
    assert photo.size_px == ((320, 480) if stands else (480, 320))
    assert np.abs(corners_of(photo.rgb) - np.array(CORNERS)[list(order)]).max() <= 4
    assert photo.exif.model == "Phone 1"
    assert photo.exif.recorded_size_px == (480, 320)
    assert photo.exif.orientation == {"upright": 1, "undecided": 3}.get(name, 6)
    assert len(photo.remarks) == (remark is not None)
    assert all(text.startswith(remark or "") for text in photo.remarks)


def test_hdr_heic_is_refused() -> None:
    """The colour box says PQ."""
    pytest.importorskip("pi_heif")

    with pytest.raises(PhotoError, match="HDR tone curve"):
        read_photo(HEIC_CASES / "pq.heic")


def test_heic_without_its_decoder_names_the_extra(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One sentence tells what to install."""
    monkeypatch.setitem(sys.modules, "pi_heif", None)

    with pytest.raises(PhotoError, match=r'pip install "freestand\[heic\]"'):
        read_photo(HEIC_CASES / "upright.heic")
