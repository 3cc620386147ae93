"""A drawn picture as a PNG or JPEG file, whole or not at all."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from calib.errors import OutputError
from vision.output.written import write_whole
from vision.output.xmp import JPEG_LIMIT, make_packet
from vision.records.kept import Inspection

PNG_XMP = "XML:com.adobe.xmp"  # the keyword that ISO 16684-3 gives it
PNG_EFFORT = 3  # higher levels take twice as long for a twentieth less
JPEG_QUALITY = 90
DOTS_PER_INCH = 275

Pixels = NDArray[np.uint8]


def save_picture(path: Path, rgb: Pixels, inspection: Inspection) -> None:
    """Write a picture with the inspection's values in its XMP.

    Raises
    ------
    OutputError
        When the name does not end in .png, .jpg or .jpeg, or cannot be written.
    """
    encode = ENCODERS.get(path.suffix.lower())
    if encode is None:
        ending = path.suffix or "no ending"
        fault = f"has {ending}, where a picture needs .png, .jpg or .jpeg"
        raise OutputError(str(path), fault, "Name the picture with one of these")
    write_whole(path, encode(rgb, inspection))


def encode_png(rgb: Pixels, inspection: Inspection) -> bytes:
    """Give a PNG file's bytes, values included."""
    notes = PngInfo()
    notes.add_itxt(PNG_XMP, make_packet(inspection).decode())
    file = BytesIO()
    Image.fromarray(rgb).save(
        file,
        "PNG",
        compress_level=PNG_EFFORT,
        pnginfo=notes,
        dpi=(DOTS_PER_INCH, DOTS_PER_INCH),
    )
    return file.getvalue()


def encode_jpeg(rgb: Pixels, inspection: Inspection) -> bytes:
    """Give a JPEG file's bytes; a long result goes as values only."""
    file = BytesIO()
    Image.fromarray(rgb).save(
        file,
        "JPEG",
        quality=JPEG_QUALITY,
        subsampling=0,  # thin coloured lines stay sharp
        dpi=(DOTS_PER_INCH, DOTS_PER_INCH),
        xmp=make_packet(inspection, JPEG_LIMIT),
    )
    return file.getvalue()


ENCODERS: dict[str, Callable[[Pixels, Inspection], bytes]] = {
    ".png": encode_png,
    ".jpg": encode_jpeg,
    ".jpeg": encode_jpeg,
}
"""By the ending of the file's name."""
