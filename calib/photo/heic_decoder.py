"""Decode one HEIC picture from standard input; run as a process of its own.

The decoder is optional, is written in C, and can crash on a damaged file; a crash must
not take the program with it. Writes one line of JSON and then the pixels. Above
``argv[1]`` pixels it writes the line alone. Imports nothing of this program.
"""

import base64
import json
import sys


def main() -> None:
    """Read, decode, write."""
    import io  # noqa: PLC0415 the module is importable without any decoder

    from pi_heif import HeifImageFile  # noqa: PLC0415 optional

    picture = HeifImageFile(io.BytesIO(sys.stdin.buffer.read()))
    head = {"mode": picture.mode, "size": picture.size, "info": _plain(picture.info)}
    fits = picture.width * picture.height <= int(sys.argv[1])
    if fits:
        picture.load()
        head |= {"mode": picture.mode, "size": picture.size}
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n")
    if fits:
        sys.stdout.buffer.write(picture.tobytes())


def _plain(info: dict[str, object]) -> dict[str, object]:
    """Keep what the reader asks for; bytes as text."""
    kept: dict[str, object] = {
        name: base64.b64encode(value).decode()
        for name in ("exif", "icc_profile")
        if isinstance(value := info.get(name), bytes)
    }
    orientation = info.get("original_orientation")
    nclx = info.get("nclx_profile")
    if isinstance(orientation, int):
        kept["original_orientation"] = orientation
    if isinstance(nclx, dict):
        kept["transfer"] = int(nclx.get("transfer_characteristics", 0))
    return kept


if __name__ == "__main__":
    main()
