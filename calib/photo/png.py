"""PNG chunks (ISO/IEC 15948): checked, because decoders let some damage pass."""

import zlib
from collections.abc import Iterator

SIGNATURE = b"\x89PNG\r\n\x1a\n"
DEPTH_AT = 24  # the byte of the header that holds bits per sample
FRAME_BYTES = 12  # length, name and checksum of a chunk


def check_chunks(data: bytes) -> None:
    """Raise ValueError when a chunk that makes the picture is damaged or missing."""
    for name, chunk in _chunks(data):
        if _counts(name) and zlib.crc32(chunk[4:-4]) != _number(chunk[-4:]):
            raise ValueError("a checksum is wrong")


def critical_part(data: bytes) -> bytes:
    """Give the file without the chunks that do not make the picture."""
    kept = (chunk for name, chunk in _chunks(data) if _counts(name))
    return SIGNATURE + b"".join(kept)


def _counts(name: bytes) -> bool:
    """Tell a critical chunk by its capital (ISO/IEC 15948, 5.4); tRNS is alpha."""
    return name[:1].isupper() or name == b"tRNS"


def _chunks(data: bytes) -> Iterator[tuple[bytes, memoryview]]:
    """Give each chunk's name and all its bytes, up to the end mark."""
    view, at, name = memoryview(data), len(SIGNATURE), b""
    while name != b"IEND":
        end = at + FRAME_BYTES + _number(view[at : at + 4])
        if end > len(data):
            raise ValueError("it ends within a chunk")
        name = bytes(view[at + 4 : at + 8])
        yield name, view[at:end]
        at = end


def _number(four: memoryview) -> int:
    return int.from_bytes(four, "big")
