"""What may go wrong inside a file, before the file's name is put to it."""

import struct
import zlib

import cv2
from PIL import Image

LARGEST_PX = 250_000_000  # more than any camera in a workshop gives; 0.75 GB
SMALLEST_SIDE_PX = 400  # on the long side: below it is a thumbnail
DECODER_FAULTS = (
    OSError,
    SyntaxError,
    ValueError,
    ArithmeticError,
    LookupError,
    TypeError,
    AttributeError,
    EOFError,
    RuntimeError,
    MemoryError,
    struct.error,
    zlib.error,
    cv2.error,
    Image.DecompressionBombError,
)
"""What the decoders are known to raise on damaged bytes, beside their own errors."""


def check_size(width: int, height: int) -> None:
    """Refuse a picture that is too large or only a preview."""
    if width * height > LARGEST_PX:
        raise Unusable(
            f"has {width * height / 1e6:.0f} Mpx, "
            f"and {LARGEST_PX // 1_000_000} Mpx is the limit",
            "Crop it to the springs and the reference, or reduce it",
        )
    if max(width, height) < SMALLEST_SIDE_PX:
        raise Unusable(
            f"is only {width}x{height} px, and {SMALLEST_SIDE_PX} px is the least",
            "Use the original photograph, not a preview of it",
        )


class Unusable(Exception):  # noqa: N818 it becomes a PhotoError as soon as the file is named
    """A picture that can be decoded and yet not be used."""

    def __init__(self, fault: str, remedy: str) -> None:
        self.fault = fault
        self.remedy = remedy
        super().__init__(fault)
