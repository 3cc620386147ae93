"""Lens files: JSON, versioned, written whole or not at all."""

import json
import os
from math import isfinite
from pathlib import Path
from tempfile import NamedTemporaryFile

from calib.codec import CodecError, encode, read_json
from calib.errors import LensError
from calib.records import Lens

RECORDS = (Lens,)
AGAIN = "Make it again with the command lens"
LARGEST_FILE_BYTES = 100_000  # a lens file has less than one thousand


def save_lens(lens: Lens, path: Path) -> None:
    """Write a lens file; an old one stays whole until the new one is."""
    text = json.dumps(encode(lens, RECORDS), indent=2, allow_nan=False) + "\n"
    try:
        with NamedTemporaryFile(
            "w",
            encoding="utf-8",
            dir=path.parent,
            prefix=f".{path.name}.",
            delete=False,
        ) as part:
            try:
                part.write(text)
                part.flush()
                os.fsync(part.fileno())
                Path(part.name).replace(path)
            except BaseException:
                Path(part.name).unlink(missing_ok=True)
                raise
    except OSError as fault:
        reason = (fault.strerror or "unknown reason").lower()
        raise LensError(
            str(path),
            f"cannot be written ({reason})",
            "Choose another place with --out",
        ) from fault


def load_lens(path: Path) -> Lens:
    """Read a lens file.

    Raises
    ------
    LensError
        When there is none, or when a value in it is missing or cannot be.
    """
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise LensError(str(path), "is too large for a lens file", AGAIN)
        lens = read_json(path.read_text(encoding="utf-8"), RECORDS)
    except OSError as fault:
        reason = (fault.strerror or "unknown reason").lower()
        raise LensError(
            str(path), f"cannot be read ({reason})", "Check the name and the folder"
        ) from fault
    except UnicodeDecodeError as fault:
        raise LensError(str(path), "is not a text file", AGAIN) from fault
    except CodecError as fault:
        raise LensError(str(path), str(fault), AGAIN) from fault
    if not isinstance(lens, Lens):
        raise LensError(str(path), "holds no lens", AGAIN)
    for name, good in _checks(lens).items():
        if not good:
            value = getattr(lens, name)
            raise LensError(str(path), f"has {name} {value!r}, which cannot be", AGAIN)
    return lens


def _checks(lens: Lens) -> dict[str, bool]:
    """Tell for each field whether it can be; the text fields are free."""
    uncertainties = ("focal_u_px", "centre_u_px", "k1_u", "k2_u", "rms_px")
    return {
        "camera": isinstance(lens.camera, str),
        "size_px": _is_pair(lens.size_px) and all(side > 0 for side in lens.size_px),
        "focal_px": _is_number(lens.focal_px) and lens.focal_px > 0,
        "centre_px": _is_pair(lens.centre_px),
        "k1": _is_number(lens.k1),
        "k2": _is_number(lens.k2),
        "views": _is_number(lens.views) and lens.views > 0,
        "focal_length_mm": lens.focal_length_mm is None
        or (_is_number(lens.focal_length_mm) and lens.focal_length_mm > 0),
    } | {name: _is_positive(getattr(lens, name)) for name in uncertainties}


def _is_pair(value: object) -> bool:
    if not isinstance(value, tuple) or len(value) != 2:  # noqa: PLR2004 x and y
        return False
    return all(_is_number(part) for part in value)


def _is_positive(value: float) -> bool:
    return _is_number(value) and value >= 0


def _is_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and isfinite(value)
    )
