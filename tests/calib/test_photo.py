"""Each file format becomes the same upright sRGB picture, or one clear sentence."""

import hashlib
import io
import os
import subprocess
import sys
import warnings
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms

from calib.errors import PhotoError
from calib.photo import read_photo
from tests.calib.photo_files import (
    ADOBE_GAMMA,
    ADOBE_XY,
    CORNERS,
    HEIGHT,
    P3_XY,
    SRGB_XY,
    WIDTH,
    corner_pixels,
    corners_of,
    deep_png,
    deep_tiff,
    encoded,
    gamma_curve,
    grey_profile,
    lzw_tiff,
    matrix_profile,
    srgb_curve,
    stored_for,
    with_pillow,
)

HEIC_CASES = Path(__file__).parents[1] / "cases" / "heic"
JPEG_LEVELS = 3  # of 255: what quality 95 costs in the middle of a flat patch
EXACT = 0


def write(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def corner_picture(mode: str = "RGB") -> Image.Image:
    return Image.fromarray(corner_pixels()).convert(mode)


def assert_corners(rgb: NDArray[Any], tolerance: int, full: int = 255) -> None:
    levels = corners_of(rgb) * 255 / full
    assert np.abs(levels - np.array(CORNERS)).max() <= tolerance


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


def test_cmyk_is_converted(tmp_path: Path) -> None:
    """Without a profile: R = (1 - C)(1 - K), as printers' primers have it."""
    data = encoded(corner_picture("CMYK"), "JPEG", quality=95)

    photo = read_photo(write(tmp_path, "a.jpg", data))

    assert_corners(photo.rgb, JPEG_LEVELS + 3)


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
    chunk = b"\0\0\0\4" + body + _crc(body)

    for data in (in_profile, plain[:33] + chunk + plain[33:]):
        with pytest.raises(PhotoError, match="HDR tone curve"):
            read_photo(write(tmp_path, "a.pic", data))


def _crc(body: bytes) -> bytes:
    return zlib.crc32(body).to_bytes(4, "big")


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


def _huge_png() -> bytes:
    """Claim 20000 x 20000 px in a real header."""
    header = b"IHDR" + (20_000).to_bytes(4, "big") * 2 + bytes((8, 2, 0, 0, 0))
    plain = encoded(corner_picture(), "PNG")
    return plain[:8] + b"\0\0\0\x0d" + header + _crc(header) + plain[33:]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.jpg", b"", "is empty"),
        ("notes.jpg", b"free height 48.0 mm\n" * 40, "is not a picture of a kind"),
        ("web.webp", b"RIFF\x24\0\0\0WEBPVP8 ", "JPEG, PNG, TIFF or HEIC"),
        ("a.dng", b"II*\0" + bytes(400), "is a camera raw file"),
        ("a.jpg", b"\xff\xd8\xff" + bytes(400), "is damaged or cut short"),
        ("a.png", _huge_png(), "has 400 Mpx, and 250 Mpx is the limit"),
        (
            "a.png",
            encoded(Image.new("RGB", (320, 240)), "PNG"),
            "is only 320x240 px, and 400 px is the least",
        ),
        (
            "a.tif",
            encoded(Image.new("F", (WIDTH, HEIGHT)), "TIFF"),
            "holds samples that no camera writes",
        ),
    ],
)
def test_unusable_files_give_one_sentence(
    tmp_path: Path, name: str, data: bytes, words: str
) -> None:
    """File, fault and remedy, on one line, without a warning."""
    path = write(tmp_path, name, data)

    with pytest.raises(PhotoError) as caught:
        read_photo(path)

    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert words in message
    assert message.endswith(".")
    assert "\n" not in message


def test_missing_files_folders_and_devices_are_refused(tmp_path: Path) -> None:
    """Each with its own sentence; a pipe is not waited for."""
    os.mkfifo(tmp_path / "pipe.jpg")

    for name, words in (
        ("no.jpg", "does not exist"),
        (".", "is a folder"),
        ("pipe.jpg", "is not an ordinary file"),
    ):
        with pytest.raises(PhotoError, match=words):
            read_photo(tmp_path / name)


@pytest.mark.parametrize("kept", [0.02, 0.5, 0.98])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_a_truncated_file_is_refused(tmp_path: Path, kind: str, kept: float) -> None:
    """A half copied picture is never measured in."""
    noise = np.random.default_rng(3).integers(0, 255, (HEIGHT, WIDTH, 3), np.uint8)
    data = encoded(Image.fromarray(noise), kind)

    with pytest.raises(PhotoError, match="damaged or cut short"):
        read_photo(write(tmp_path, "a.pic", data[: int(len(data) * kept)]))


def test_a_raw_file_under_another_name_is_refused(tmp_path: Path) -> None:
    """A DNG is a TIFF whose first picture is a thumbnail; its version tag tells."""
    out = io.BytesIO()
    tag = [(50706, "B", 4, (1, 4, 0, 0), True)]
    tifffile.imwrite(out, corner_pixels(), photometric="rgb", extratags=tag)

    with pytest.raises(PhotoError, match="camera raw"):
        read_photo(write(tmp_path, "a.tif", out.getvalue()))


def test_large_pictures_raise_no_warning(tmp_path: Path) -> None:
    """108 Mpx, from which the decoder alone would warn, is read in silence."""
    picture = Image.new("L", (12000, 9000), 200)
    path = write(tmp_path, "a.jpg", encoded(picture, "JPEG", quality=30))

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        photo = read_photo(path)

    assert photo.size_px == (12000, 9000)


def test_damage_prints_nothing_to_the_terminal(tmp_path: Path) -> None:
    """Neither the decoders nor their C libraries write beside the one sentence."""
    data = bytearray(deep_tiff(corner_pixels(), 1))
    data[200:260] = bytes(60)
    path = write(tmp_path, "a.tif", bytes(data[:-5000]))
    code = (
        "import sys; from calib.photo import read_photo\n"
        "from calib.errors import PhotoError\n"
        "try: read_photo(sys.argv[1])\n"
        "except PhotoError: pass\n"
    )

    run = subprocess.run(
        [sys.executable, "-c", code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )

    assert run.stdout + run.stderr == ""
