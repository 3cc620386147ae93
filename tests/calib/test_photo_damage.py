"""Damaged files give a Photo or a PhotoError: never another exception, never a hang."""

import time
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calib.errors import PhotoError
from calib.photo import focal_px_from_exif, read_photo
from calib.photo.png import check_chunks, critical_part
from calib.records import Photo
from tests.calib.photo_files import (
    HEIC_CASES,
    HEIGHT,
    P3_XY,
    WIDTH,
    corner_pixels,
    deep_png,
    deep_tiff,
    encoded,
    exif_record,
    lzw_tiff,
    matrix_profile,
    srgb_curve,
)

ROUNDS = 30
PATIENCE_S = 2.0  # for one small file; sound ones take 10 ms, HEIC 150 ms
HEADER_BYTES = 1500


def sound_files() -> dict[str, Callable[[], bytes]]:
    """Name a maker for each kind of file."""
    noise = np.random.default_rng(4).integers(0, 9, (HEIGHT, WIDTH, 3))
    picture = Image.fromarray((corner_pixels() // 2 + noise).astype(np.uint8))
    record = exif_record(
        {0x0112: 6, 0x0110: "No. 1"}, {0x920A: 5.7, 0xA405: 26, 0xA002: 4000}
    )
    profile = matrix_profile(P3_XY, srgb_curve())
    told = {"exif": record, "icc_profile": profile}
    return {
        "jpeg": lambda: encoded(picture, "JPEG", **told),
        "progressive": lambda: encoded(picture, "JPEG", progressive=True, exif=record),
        "cmyk": lambda: encoded(picture.convert("CMYK"), "JPEG"),
        "mpo": lambda: encoded(picture, "MPO", save_all=True, append_images=[picture]),
        "png": lambda: encoded(picture, "PNG", **told),
        "palette": lambda: encoded(picture.quantize(16), "PNG", transparency=3),
        "png16": lambda: deep_png(corner_pixels(), 6),
        "tiff": lambda: encoded(picture, "TIFF", **told),
        "tiff_lzw": lambda: encoded(picture, "TIFF", compression="tiff_lzw"),
        "tiff_jpeg": lambda: encoded(picture, "TIFF", compression="jpeg"),
        "tiff16": lambda: deep_tiff(corner_pixels(), 6),
        "tiff16_lzw": lambda: lzw_tiff(corner_pixels(), 6),
        "heic": (HEIC_CASES / "turned.heic").read_bytes,
    }


def damaged(data: bytes, random: np.random.Generator) -> bytes:
    """Cut, flip bits anywhere or in the header, blank a stretch, or spoil the end."""
    spoilt = bytearray(data)
    match int(random.integers(5)):
        case 0:
            return data[: int(random.integers(1, len(data)))]
        case 1 | 2 as where:
            reach = len(data) if where == 1 else min(len(data), HEADER_BYTES)
            for at in random.integers(0, reach, int(random.integers(1, 20))):
                spoilt[at] ^= 1 << int(random.integers(8))
        case 3:
            start, length = (
                int(random.integers(len(data))),
                int(random.integers(1, 200)),
            )
            spoilt[start : start + length] = bytes(int(random.integers(200)))
        case _:
            reach = min(len(data), HEADER_BYTES // 2)
            for at in random.integers(1, reach, int(random.integers(1, 12))):
                spoilt[-int(at)] = int(random.integers(256))
    return bytes(spoilt)


def read_or_refuse(path: Path) -> Photo | PhotoError:
    """Read within the time allowed; the record of what came out is used as well."""
    begun = time.perf_counter()
    try:
        result: Photo | PhotoError = read_photo(path)
    except PhotoError as refused:
        result = refused
    assert time.perf_counter() - begun < PATIENCE_S
    if isinstance(result, Photo):
        assert result.rgb.shape[2] == 3
        focal_px_from_exif(result)
    return result


@pytest.mark.parametrize("kind", sorted(sound_files()))
def test_damage_is_read_or_refused(
    tmp_path: Path, kind: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """Thirty ways to spoil each kind of file; nothing is written to the terminal."""
    if kind == "heic":
        pytest.importorskip("pi_heif")
    data = sound_files()[kind]()
    rounds = ROUNDS // 5 if kind == "heic" else ROUNDS
    path = tmp_path / "spoilt.pic"

    results = []
    for seed in range(rounds):
        random = np.random.default_rng((seed, zlib.crc32(kind.encode())))
        path.write_bytes(damaged(data, random))
        results.append(read_or_refuse(path))

    assert any(isinstance(result, PhotoError) for result in results)
    assert capfd.readouterr() == ("", "")


def test_a_crash_of_the_decoder_is_survived(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The HEIC decoder works in a process of its own; there it may crash or hang."""
    pytest.importorskip("pi_heif")
    sound = HEIC_CASES / "upright.heic"
    read_or_refuse(HEIC_CASES / "crashing.heic")
    for name, body in (
        ("crash", "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"),
        ("hang", "import time; time.sleep(60)"),
        ("babble", "print('no picture')"),
    ):
        decoder = tmp_path / f"{name}.py"
        decoder.write_text(body, encoding="utf-8")
        monkeypatch.setattr("calib.photo.heic.DECODER", decoder)
        monkeypatch.setattr("calib.photo.heic.PATIENCE_S", 0.5)

        with pytest.raises(PhotoError, match="damaged or cut short"):
            read_photo(sound)


def test_a_spoilt_png_pixel_is_noticed(tmp_path: Path) -> None:
    """One bit in the compressed pixels breaks the chunk's checksum."""
    data = bytearray(encoded(Image.fromarray(corner_pixels()), "PNG"))
    at = data.index(b"IDAT") + 60
    data[at] ^= 1
    path = tmp_path / "a.png"
    path.write_bytes(bytes(data))

    with pytest.raises(PhotoError, match="damaged or cut short"):
        read_photo(path)


def test_side_chunks_of_a_png_do_not_matter() -> None:
    """A spoilt comment is no reason to refuse; it is kept from the decoder."""
    data = encoded(Image.fromarray(corner_pixels()), "PNG", dpi=(300, 300))
    at = data.index(b"pHYs") + 6
    spoilt = data[:at] + b"\xff" + data[at + 1 :]

    check_chunks(spoilt)

    assert b"pHYs" not in critical_part(spoilt)
    assert b"IDAT" in critical_part(spoilt)
