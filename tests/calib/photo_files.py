"""Pictures as bytes for the tests of reading: four coloured corners on grey."""

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

WIDTH, HEIGHT = 420, 300  # not square, so that a turn shows
RED, GREEN, BLUE, PALE, GREY = (
    (220, 40, 40),
    (40, 200, 40),
    (40, 40, 220),
    (235, 235, 235),
    (128, 128, 128),
)
CORNERS = (RED, GREEN, BLUE, PALE)  # top left, top right, bottom left, bottom right

HEIC_CASES = Path(__file__).parents[1] / "cases" / "heic"
JPEG_LEVELS = 3  # of 255: what quality 95 costs in the middle of a flat patch
EXACT = 0

# CIE xy of red, green, blue (Display P3: SMPTE EG 432-1; Adobe RGB (1998), 4.3.1.1).
SRGB_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
P3_XY = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
ADOBE_XY = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
D65_XY, D50_XYZ = (0.3127, 0.3290), np.array((0.9642, 1.0, 0.8249))
BRADFORD = np.array(
    ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))
)  # ICC.1:2022, annex E
ADOBE_GAMMA = 2 + 51 / 256  # Adobe RGB (1998), 4.3.4.2


def corner_pixels(width: int = WIDTH, height: int = HEIGHT) -> NDArray[np.uint8]:
    """Draw the picture: each corner colour fills a quarter of each side."""
    rgb = np.full((height, width, 3), GREY, np.uint8)
    rgb[: height // 4, : width // 4] = RED
    rgb[: height // 4, -(width // 4) :] = GREEN
    rgb[-(height // 4) :, : width // 4] = BLUE
    rgb[-(height // 4) :, -(width // 4) :] = PALE
    return rgb


def corners_of(rgb: NDArray[Any]) -> NDArray[np.int64]:
    """Pick the four corners, in the order of CORNERS."""
    return np.array((rgb[9, 9], rgb[9, -10], rgb[-10, 9], rgb[-10, -10]), np.int64)


def stored_for(orientation: int, upright: NDArray[Any]) -> NDArray[Any]:
    """Store an upright picture so that the orientation stands it up again.

    Exif 2.32, 4.6.4 A, Orientation: where row 0 and column 0 of the stored data are
    seen (1 top-left, 2 top-right, 3 bottom-right, 4 bottom-left, 5 left-top,
    6 right-top, 7 right-bottom, 8 left-bottom).
    """
    swapped = upright.swapaxes(0, 1)
    stored = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: swapped,
        6: swapped[::-1],
        7: swapped[::-1, ::-1],
        8: swapped[:, ::-1],
    }[orientation]
    return np.ascontiguousarray(stored)


def encoded(picture: Image.Image, kind: str, **options: Any) -> bytes:
    """Encode by the imaging library."""
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def write(folder: Path, name: str, data: bytes) -> Path:
    """Put a file into a folder."""
    path = folder / name
    path.write_bytes(data)
    return path


def corner_picture(mode: str = "RGB") -> Image.Image:
    """Give the corners in a mode of the imaging library."""
    return Image.fromarray(corner_pixels()).convert(mode)


def assert_corners(rgb: NDArray[Any], tolerance: int, full: int = 255) -> None:
    """Compare the corners, on the scale of 255 levels."""
    levels = corners_of(rgb) * 255 / full
    assert np.abs(levels - np.array(CORNERS)).max() <= tolerance


def crc(body: bytes) -> bytes:
    """Give the checksum that ends a PNG chunk."""
    return zlib.crc32(body).to_bytes(4, "big")


def exif_record(
    main: dict[int, Any] | None = None, camera: dict[int, Any] | None = None
) -> Image.Exif:
    """Build an Exif record from tags."""
    record = Image.Exif()
    record.update(main or {})
    if camera:
        record.get_ifd(0x8769).update(camera)
    written = Image.Exif()  # TIFF is written only from a record that was read
    written.load(record.tobytes())
    return written


def with_pillow(
    stored: NDArray[np.uint8], kind: str, orientation: int, **options: Any
) -> bytes:
    """Encode stored pixels with their orientation."""
    record = exif_record({0x0112: orientation})
    return encoded(Image.fromarray(stored), kind, exif=record, **options)


def deep_tiff(stored: NDArray[np.uint8], orientation: int) -> bytes:
    """Encode with 16 bits, uncompressed."""
    out = io.BytesIO()
    tag = [(0x0112, "H", 1, orientation, True)]
    deep = stored.astype(np.uint16) * 257
    tifffile.imwrite(out, deep, photometric="rgb", extratags=tag, metadata=None)
    return out.getvalue()


def lzw_tiff(stored: NDArray[np.uint8], orientation: int) -> bytes:
    """Encode with a compression that the 16-bit reader does not know."""
    deep = stored[:, :, ::-1].astype(np.uint16) * 257
    options = [cv2.IMWRITE_TIFF_COMPRESSION, cv2.IMWRITE_TIFF_COMPRESSION_LZW]
    data = bytearray(cv2.imencode(".tiff", deep, options)[1].tobytes())
    with tifffile.TiffFile(io.BytesIO(data)) as tiff:
        page = tiff.pages.first
        offsets = sorted(tag.offset for tag in page.tags)
    entries = {bytes(data[at : at + 12]) for at in offsets}
    entries = {entry for entry in entries if entry[:2] != struct.pack("<H", 284)}
    entries.add(struct.pack("<HHIHxx", 274, 3, 1, orientation))  # for the default 284
    by_code = sorted(entries, key=lambda entry: entry[1::-1])
    data[offsets[0] : offsets[-1] + 12] = b"".join(by_code)
    return bytes(data)


def deep_png(stored: NDArray[np.uint8], orientation: int) -> bytes:
    """Put the eXIf chunk of an 8-bit picture into a 16-bit one, behind its header."""
    deep = stored[:, :, ::-1].astype(np.uint16) * 257
    plain = cv2.imencode(".png", deep)[1].tobytes()
    donor = with_pillow(stored, "PNG", orientation)
    at = donor.index(b"eXIf") - 4
    chunk = donor[at : at + 12 + int.from_bytes(donor[at : at + 4], "big")]
    return plain[:33] + chunk + plain[33:]


def matrix_profile(
    primaries: tuple[tuple[float, float], ...], curve: bytes, *, transfer: int = 0
) -> bytes:
    """Write an ICC display profile of three colorants and one curve (ICC.1:2022)."""
    tags = {b"wtpt": _xyz(D50_XYZ)}
    for channel, colorant in zip(b"rgb", _colorants(primaries).T, strict=True):
        tags[bytes((channel,)) + b"XYZ"] = _xyz(colorant)
        tags[bytes((channel,)) + b"TRC"] = curve
    if transfer:
        tags[b"cicp"] = b"cicp\0\0\0\0" + bytes((9, transfer, 0, 1))
    return _profile(b"RGB ", tags)


def grey_profile(curve: bytes) -> bytes:
    """Write an ICC grey profile."""
    return _profile(b"GRAY", {b"wtpt": _xyz(D50_XYZ), b"kTRC": curve})


def gamma_curve(gamma: float) -> bytes:
    """Write a pure power curve."""
    return b"curv\0\0\0\0" + struct.pack(">IH2x", 1, round(gamma * 256))


def srgb_curve() -> bytes:
    """Write the sRGB curve as a parametric one of type 3."""
    values = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    fixed = struct.pack(">5i", *(round(value * 65536) for value in values))
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + fixed


def _colorants(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    """Give the columns XYZ of the primaries, moved from D65 to D50."""
    ends = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in primaries]).T
    x, y = D65_XY
    white = np.array((x / y, 1.0, (1 - x - y) / y))
    columns = ends * np.linalg.solve(ends, white)
    gain = np.diag((BRADFORD @ D50_XYZ) / (BRADFORD @ white))
    moved: NDArray[np.float64] = np.linalg.inv(BRADFORD) @ gain @ BRADFORD @ columns
    return moved


def _xyz(values: NDArray[np.float64]) -> bytes:
    return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in values))


def _profile(space: bytes, tags: dict[bytes, bytes]) -> bytes:
    table, body = b"", b""
    start = 128 + 4 + 12 * len(tags)
    for name, content in tags.items():
        table += name + struct.pack(">II", start + len(body), len(content))
        body += content
    size = start + len(body)
    header = struct.pack(">I4xI4s4s4s", size, 0x04300000, b"mntr", space, b"XYZ ")
    header += bytes(12) + b"acsp" + bytes(28)
    header += struct.pack(">3i", *(round(v * 65536) for v in D50_XYZ)) + bytes(48)
    return header + struct.pack(">I", len(tags)) + table + body
