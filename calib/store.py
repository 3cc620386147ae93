"""Reference and calibration files: read, checked, written whole or not at all.

A reference file is TOML:

kind = "try-square"             kind = "square-card"
blade_mm = 100.0                side_mm = 60.0
stock_mm = 70.0                 bottom_margin_mm = 8.0
blade_width_mm = 20.0           expanded_uncertainty_mm = 0.05
stock_width_mm = 20.0           face_offset_mm = 0.0
                                face_offset_uncertainty_mm = 1.0

The last three go with either kind and may be left out.
"""

import hashlib
import json
import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any, cast

from calib.codec import CodecError, read_json, write_json
from calib.errors import OutputError, TargetError
from calib.quantity import Influence, Quantity
from calib.records import (
    Calibration,
    Camera,
    Exif,
    FocalCase,
    Reference,
    SquareCard,
    TrySquare,
    Variant,
)

KINDS: dict[str, type[TrySquare] | type[SquareCard]] = {
    "try-square": TrySquare,
    "square-card": SquareCard,
}
SIZES = {
    "try-square": ("blade_mm", "stock_mm", "blade_width_mm", "stock_width_mm"),
    "square-card": ("side_mm", "bottom_margin_mm"),
}
EXTRAS = {  # key: value when left out, least, most
    "expanded_uncertainty_mm": (0.05, 0.0, 5.0),
    "face_offset_mm": (0.0, -200.0, 200.0),
    "face_offset_uncertainty_mm": (1.0, 0.0, 50.0),
}
LEAST_UNCERTAINTY_MM = 0.002  # no square is better known; also keeps the solve sound
SIZE_LIMITS_MM = (2.0, 1000.0)
MARGIN_LIMITS_MM = (0.0, 500.0)
RECORDS = (
    Calibration,
    Exif,
    Reference,
    TrySquare,
    SquareCard,
    Camera,
    Quantity,
    Influence,
    Variant,
    FocalCase,
)
MARK = "freestand calibration"
FORMAT = 1


def load_reference(path: str | Path) -> Reference:
    """Read a reference file.

    Raises
    ------
    TargetError
        The file cannot be read, or a key or value is not what it should be.
    """
    name = str(path)
    table = _read_table(Path(path), name)
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise _of_no_kind(name, kind)
    known = {"kind", *SIZES[kind], *EXTRAS}
    for key in table:
        if key not in known:
            raise _unknown(name, table, key, known)
    sizes = {key: _size(name, table, key) for key in SIZES[kind]}
    _check_proportions(name, kind, sizes)
    extras = {key: _extra(name, table, key) for key in EXTRAS}
    extras["expanded_uncertainty_mm"] = max(
        extras["expanded_uncertainty_mm"], LEAST_UNCERTAINTY_MM
    )
    return Reference(shape=KINDS[kind](**sizes), **extras)


def _of_no_kind(name: str, kind: object) -> TargetError:
    """Say what a reference file begins with; another file may have been meant."""
    kinds = " or ".join(f'"{each}"' for each in KINDS)
    if kind is None:
        remedy = f"Name another file, or begin this one with kind = {kinds}"
        return TargetError(name, "is no reference file: it states no kind", remedy)
    return TargetError(name, f"kind is {kind!r}, not {kinds}", "Correct kind")


def _unknown(
    name: str, table: dict[str, Any], key: str, known: set[str]
) -> TargetError:
    """Name the keys there are; of a size in inches, how it is given in mm."""
    remedy = f"Use {', '.join(sorted(known - {'kind'}))}"
    in_mm = f"{key.removesuffix('_in')}_mm"
    if key.endswith("_in") and in_mm in known:
        remedy = f"Give it as {in_mm}, 25.4 for an inch"
        if isinstance(table[key], int | float):
            remedy = f"Give it in mm: {in_mm} = {25.4 * table[key]:.2f}"
    fault = f"{key} = {table[key]!r} is not a key of a {table['kind']}"
    return TargetError(name, fault, remedy)


def _read_table(path: Path, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        fault = f"cannot be read: {error.strerror or error}"
        raise TargetError(name, fault, "Check the name and the folder") from error
    except UnicodeDecodeError as error:
        fault = "is no reference file: it holds no plain text (UTF-8)"
        raise TargetError(name, fault, "Name the target's reference file") from error
    except tomllib.TOMLDecodeError as error:
        remedy = "Write lines such as blade_mm = 100.0"
        raise TargetError(name, f"is not TOML: {error}", remedy) from error


def _number(name: str, table: dict[str, Any], key: str) -> float:
    value = table[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TargetError(
            name, f"{key} = {value!r} is not a number", "Give it in mm, as 100.0"
        )
    return float(value)


def _size(name: str, table: dict[str, Any], key: str) -> float:
    if key not in table:
        raise TargetError(name, f"{key} is missing", "Add it, in mm")
    value = _number(name, table, key)
    low, high = MARGIN_LIMITS_MM if key == "bottom_margin_mm" else SIZE_LIMITS_MM
    if not low <= value <= high:
        raise TargetError(
            name,
            f"{key} = {value:g} is not within {low:g} to {high:g} mm",
            "Correct it",
        )
    return value


def _extra(name: str, table: dict[str, Any], key: str) -> float:
    usual, low, high = EXTRAS[key]
    if key not in table:
        return usual
    value = _number(name, table, key)
    if not low <= value <= high:
        raise TargetError(
            name,
            f"{key} = {value:g} is not within {low:g} to {high:g} mm",
            "Correct it",
        )
    return value


def _check_proportions(name: str, kind: str, sizes: dict[str, float]) -> None:
    """Refuse an L whose arms are no longer than the other arm is wide."""
    if kind != "try-square":
        return
    for arm, across in (("blade", "stock"), ("stock", "blade")):
        length, width = sizes[f"{arm}_mm"], sizes[f"{across}_width_mm"]
        if length <= width:
            raise TargetError(
                name,
                f"{arm}_mm = {length:g} is not longer than {across}_width_mm = "
                f"{width:g}",
                "Lengths count along the outer edges, from the outer corner",
            )


def save_calibration(calibration: Calibration, path: str | Path) -> None:
    """Write a calibration file; an existing file is replaced only when all is written.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    target = Path(path)
    record = write_json(calibration, RECORDS)
    digest = hashlib.sha256(record.encode()).hexdigest()
    head = json.dumps({"kind": MARK, "format": FORMAT, "sha256": digest})
    text = f'{head[:-1]}, "record": {record}}}\n'
    part = None
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=target.parent, suffix=".part", delete=False
        ) as file:
            part = Path(file.name)
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        if part is not None:
            part.unlink(missing_ok=True)
        fault = f"cannot be written: {error.strerror or error}"
        raise OutputError(str(path), fault, "Choose another folder") from error


def load_calibration(path: str | Path) -> Calibration:
    """Read a calibration file.

    Raises
    ------
    TargetError
        The file cannot be read, is of another kind or a newer format, or is damaged.
    """
    name, remedy = str(path), "Calibrate again from the reference photo"
    other = "Name a file that freestand calibrate wrote"
    try:
        data = json.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        fault = f"cannot be read: {error.strerror or error}"
        raise TargetError(name, fault, "Check the name and the folder") from error
    except ValueError as error:
        raise TargetError(name, "is no calibration file", other) from error
    if not isinstance(data, dict) or data.get("kind") != MARK:
        raise TargetError(name, "is no calibration file", other)
    if data.get("format") != FORMAT:
        fault = f"has format {data.get('format')!r}, this program knows {FORMAT}"
        raise TargetError(name, fault, remedy)
    record = json.dumps(data.get("record"), allow_nan=False, separators=(",", ":"))
    if hashlib.sha256(record.encode()).hexdigest() != data.get("sha256"):
        raise TargetError(name, "is damaged: its checksum does not fit", remedy)
    try:
        return cast("Calibration", read_json(record, RECORDS))
    except CodecError as error:
        raise TargetError(name, str(error), remedy) from error
