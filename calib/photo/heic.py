"""HEIC pictures: decoded next door, turned by their own properties."""

import base64
import json
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from calib.photo.faults import Unusable, check_size
from calib.records import Exif

DECODER = Path(__file__).with_name("heic_decoder.py")
PATIENCE_S = 120  # a whole 48 Mpx picture takes a few seconds
META_BYTES = 1 << 20  # a HEIC file's directory stands in its first part


def open_heic(data: bytes, largest_px: int) -> Image.Image:
    """Decode in a process of its own: a damaged file can crash the decoder."""
    if find_spec("pi_heif") is None:
        raise Unusable(
            "is a HEIC picture, and the HEIC decoder is not installed",
            'Install it with: pip install "freestand[heic]", or convert it to JPEG',
        )
    try:
        run = subprocess.run(  # noqa: S603 our own file, no shell
            [sys.executable, str(DECODER), str(largest_px)],
            input=data,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=PATIENCE_S,
            check=True,
        )
    except subprocess.SubprocessError as fault:
        raise ValueError("the HEIC decoder gave up") from fault
    return _unpacked(run.stdout)


def _unpacked(output: bytes) -> Image.Image:
    end = output.index(b"\n") + 1
    head = json.loads(output[:end])
    size, mode = tuple(head["size"]), str(head["mode"])
    check_size(*size)
    pixels = np.frombuffer(output, np.uint8, offset=end)  # no copy
    picture = Image.frombuffer(mode, size, pixels, "raw", mode, 0, 1)
    picture.info |= {name: _value(value) for name, value in head["info"].items()}
    return picture


def _value(value: Any) -> Any:
    return base64.b64decode(value) if isinstance(value, str) else value


def heic_turn(
    size_px: tuple[int, int], data: bytes, exif: Exif
) -> tuple[int, tuple[str, ...]]:
    """Trust the file's own turn; its Exif tag counts only where there is none.

    ISO/IEC 23008-12 turns by the irot and imir properties, which the decoder obeys.
    Some writers leave them out and still write the tag. Then pixels as wide as the
    camera recorded, under a tag that stands them up, were not turned yet.
    """
    meta = data[:META_BYTES]
    if exif.orientation == 1 or b"irot" in meta or b"imir" in meta:
        return 1, ()
    width, height = size_px
    if exif.orientation >= 5 and width != height:  # noqa: PLR2004 5 to 8 swap the sides
        if exif.recorded_size_px == size_px:
            return exif.orientation, (
                "turned by its Exif record; check that it stands",
            )
        if exif.recorded_size_px == (height, width):
            return 1, ()
    return 1, ("two ways of standing it up are recorded; turn it if it does not stand",)
