"""Files that cannot be measured in give one sentence each."""

import io
import os
import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from calib.errors import PhotoError
from calib.photo import read_photo
from tests.calib.photo_files import (
    HEIGHT,
    WIDTH,
    corner_picture,
    corner_pixels,
    crc,
    deep_tiff,
    encoded,
    write,
)


def _huge_png() -> bytes:
    """Claim 20000 x 20000 px in a real header."""
    header = b"IHDR" + (20_000).to_bytes(4, "big") * 2 + bytes((8, 2, 0, 0, 0))
    plain = encoded(corner_picture(), "PNG")
    return plain[:8] + b"\0\0\0\x0d" + header + crc(header) + plain[33:]


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
