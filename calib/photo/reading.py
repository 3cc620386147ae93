"""A file -> a Photo; every fault of the file becomes one PhotoError."""

import hashlib
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calib.errors import PhotoError
from calib.photo import colour, containers, pixels
from calib.photo.containers import Container
from calib.photo.exif import EXIF_IFD, exif_from_tags
from calib.photo.faults import DECODER_FAULTS, LARGEST_PX, Unusable, check_size
from calib.photo.silence import silent_terminal
from calib.records import Exif, Photo

Layers = tuple[pixels.Pixels, pixels.Pixels | None, tuple[str, ...]]  # rgb, alpha

LARGEST_FILE_BYTES = 2 * 1024**3
EMPTY_EXIF_BYTES = 20  # prefix, header and a directory of no tags

Image.MAX_IMAGE_PIXELS = LARGEST_PX  # the decoder's own guard, set once


def read_photo(path: str | Path) -> Photo:
    """Read a picture upright, sRGB-encoded, with the camera's record.

    Raises
    ------
    PhotoError
        When the file is no picture that can be measured in; never anything else.
    """
    path = Path(path)
    try:
        data = _read_bytes(path)
        container = containers.recognise(path.name, data)
        with _quiet_decoders(container):
            return _decode(path.name, container, data)
    except Unusable as fault:
        raise PhotoError(str(path), fault.fault, fault.remedy) from fault
    except DECODER_FAULTS as fault:
        raise PhotoError(
            str(path),
            "is damaged or cut short and cannot be decoded",
            "Copy it again from the camera",
        ) from fault


@contextmanager
def _quiet_decoders(container: Container) -> Iterator[None]:
    """Silence warnings about tags that are read tolerantly; TIFF's come from C."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if container is Container.TIFF:
            with silent_terminal():
                yield
        else:
            yield


def _decode(name: str, container: Container, data: bytes) -> Photo:
    picture = containers.open_picture(container, data)
    check_size(*picture.size)
    exif, remarks = _read_exif(picture)
    turn, more = containers.turn_of(container, picture, data, exif)
    rgb, pixel_remarks = _upright_pixels(container, picture, data, turn)
    return Photo(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        rgb=rgb,
        exif=exif,
        remarks=remarks + more + pixel_remarks,
    )


def _upright_pixels(
    container: Container, picture: Image.Image, data: bytes, turn: int
) -> tuple[pixels.Pixels, tuple[str, ...]]:
    picture.load()
    deep, deep_remarks = pixels.deep_pixels(container, data)
    if deep is None:
        turn = 1 if container is Container.TIFF else turn  # the decoder turned it
        rgb, alpha, remarks = _from_picture(picture, data)
    else:
        rgb, alpha, remarks = _from_deep(deep, picture.info, data)
    rgb, alpha_remarks = pixels.flatten(rgb, alpha)
    upright = pixels.turned(rgb, turn)
    upright.flags.writeable = False
    return upright, deep_remarks + remarks + alpha_remarks


def _from_picture(picture: Image.Image, data: bytes) -> Layers:
    info = picture.info
    picture, alpha = pixels.split_alpha(picture)
    convert, _, remarks = colour.converter_of(picture.mode, info, data)
    return pixels.picture_pixels(picture, convert), alpha, remarks


def _from_deep(
    deep: NDArray[np.uint16], info: Mapping[str | tuple[int, int], Any], data: bytes
) -> Layers:
    """Keep 16 bits, except where a colour profile has to be applied."""
    deep, alpha = pixels.split_deep_alpha(deep)
    picture = pixels.as_picture(deep[:1])
    convert, changes, remarks = colour.converter_of(picture.mode, info, data)
    if not changes:
        return pixels.as_colour(deep), alpha, remarks
    rgb = pixels.picture_pixels(pixels.as_picture(deep), convert)
    remarks = (*remarks, "its colours were converted with 8 of its 16 bits")
    return rgb, None if alpha is None else pixels.eight_bits(alpha), remarks


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise Unusable("is a folder", "Name one picture in it")
    if not path.exists():
        raise Unusable("does not exist", "Check the name and the folder")
    if not path.is_file():
        raise Unusable("is not an ordinary file", "Name a picture file")
    if path.stat().st_size > LARGEST_FILE_BYTES:
        raise Unusable(
            f"has more than {LARGEST_FILE_BYTES / 1e9:.1f} GB",
            "Export the picture as a JPEG of full size",
        )
    try:
        return path.read_bytes()
    except OSError as fault:
        reason = (fault.strerror or "unknown reason").lower()
        raise Unusable(f"cannot be read ({reason})", "Check its permissions") from fault


def _read_exif(picture: Image.Image) -> tuple[Exif, tuple[str, ...]]:
    try:
        tags = picture.getexif()
        if not tags and len(picture.info.get("exif") or b"") > EMPTY_EXIF_BYTES:
            raise ValueError("no tag can be read")
        exif = exif_from_tags(tags, tags.get_ifd(EXIF_IFD))
        return containers.as_written(exif, picture), ()
    except DECODER_FAULTS:
        return Exif(), ("its Exif record is broken and was left out",)
