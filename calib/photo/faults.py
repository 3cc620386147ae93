"""What may go wrong inside a file, before the file's name is put to it."""

import struct
import zlib

import cv2
from PIL import Image

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


class Unusable(Exception):  # noqa: N818 it becomes a PhotoError as soon as the file is named
    """A picture that can be decoded and yet not be used."""

    def __init__(self, fault: str, remedy: str) -> None:
        self.fault = fault
        self.remedy = remedy
        super().__init__(fault)
