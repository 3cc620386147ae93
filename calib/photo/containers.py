"""The four file formats: recognise by the first bytes, open, and say how to turn."""

import io
from dataclasses import replace
from enum import Enum
from pathlib import PurePath
from typing import Any

from PIL import Image

from calib.photo.exif import ORIENTATIONS
from calib.photo.faults import LARGEST_PX, Unusable
from calib.photo.heic import heic_turn, open_heic
from calib.photo.png import SIGNATURE, check_chunks
from calib.records import Exif

HEIC_BRANDS = frozenset(
    (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
)  # ISO/IEC 23008-12, annex B
RAW_SUFFIXES = frozenset(
    (".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".rw2", ".raf", ".pef", ".srw")
)
DNG_VERSION_TAG = 50706
RAW = (
    "is a camera raw file, which has no upright picture yet",
    "Use the camera's JPEG, or develop it to a 16-bit TIFF",
)


class Container(Enum):
    """The file formats that are read, by their names in the imaging library."""

    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    HEIC = "HEIC"


def recognise(name: str, data: bytes) -> Container:
    """Tell the format by its first bytes; the name only gives raw files away."""
    if not data:
        raise Unusable("is empty", "Copy it again from the camera")
    if PurePath(name).suffix.lower() in RAW_SUFFIXES or data[4:12] == b"ftypcrx ":
        raise Unusable(*RAW)
    if data[:3] == b"\xff\xd8\xff":
        return Container.JPEG
    if data[:8] == SIGNATURE:
        return Container.PNG
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return Container.TIFF
    if data[4:8] == b"ftyp" and data[8:12] in HEIC_BRANDS:
        return Container.HEIC
    raise Unusable(
        "is not a picture of a kind that can be read (JPEG, PNG, TIFF or HEIC)",
        "Use the file that the camera wrote",
    )


def open_picture(container: Container, data: bytes) -> Image.Image:
    """Open without decoding yet."""
    if container is Container.HEIC:
        return open_heic(data, LARGEST_PX)
    if container is Container.PNG:
        check_chunks(data)  # the decoder lets wrong checksums pass
    picture = Image.open(io.BytesIO(data), formats=(container.value,))  # noqa: TID251 the only one
    if container is Container.TIFF and DNG_VERSION_TAG in picture.getexif():
        raise Unusable(*RAW)
    return picture


def as_written(exif: Exif, picture: Image.Image) -> Exif:
    """Put back the orientation that the HEIC decoder takes out of the record."""
    written: Any = picture.info.get("original_orientation")
    return replace(exif, orientation=written) if written in ORIENTATIONS else exif


def turn_of(
    container: Container, picture: Image.Image, data: bytes, exif: Exif
) -> tuple[int, tuple[str, ...]]:
    """Give the Exif orientation that the decoded pixels still need."""
    if container is not Container.HEIC:
        return exif.orientation, ()
    return heic_turn(picture.size, data, exif)
