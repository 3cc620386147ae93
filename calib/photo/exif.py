"""The camera's record (Exif 2.32), read tolerantly: a broken tag is a missing tag."""

from collections.abc import Mapping
from datetime import datetime
from math import isfinite
from typing import Any

from calib.records import Exif

# Tags of Exif 2.32 (CIPA DC-008-2019), tables 4 to 8.
MAKE, MODEL, ORIENTATION, DATE_TIME = 0x010F, 0x0110, 0x0112, 0x0132
EXIF_IFD = 0x8769
DATE_TIME_ORIGINAL, DATE_TIME_DIGITIZED = 0x9003, 0x9004
FOCAL_LENGTH, FOCAL_LENGTH_35MM, DIGITAL_ZOOM = 0x920A, 0xA405, 0xA404
PIXEL_X_DIMENSION, PIXEL_Y_DIMENSION = 0xA002, 0xA003
FOCAL_PLANE_X_RESOLUTION, FOCAL_PLANE_RESOLUTION_UNIT = 0xA20E, 0xA210

UNIT_MM = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}  # 4 and 5 are written by some cameras
ORIENTATIONS = range(1, 9)
DEFAULT_UNIT = 2  # the standard's default: inch
LARGEST_SIDE_PX = 1_000_000  # a recorded size beyond this is a broken tag


def exif_from_tags(main: Mapping[int, Any], camera: Mapping[int, Any]) -> Exif:
    """Build the record from the main and the Exif directory (tag -> decoded value)."""
    orientation = _whole(main.get(ORIENTATION)) or 1
    return Exif(
        make=_text(main.get(MAKE)),
        model=_text(main.get(MODEL)),
        focal_length_mm=_positive(camera.get(FOCAL_LENGTH)),
        focal_length_35mm=_positive(camera.get(FOCAL_LENGTH_35MM)),
        focal_plane_px_per_mm=_focal_plane_px_per_mm(camera),
        digital_zoom=_digital_zoom(camera.get(DIGITAL_ZOOM)),
        taken_at=_taken_at(main, camera),
        recorded_size_px=_recorded_size(camera),
        orientation=orientation if orientation in ORIENTATIONS else 1,
    )


def _focal_plane_px_per_mm(camera: Mapping[int, Any]) -> float | None:
    per_unit = _positive(camera.get(FOCAL_PLANE_X_RESOLUTION))
    unit = _whole(camera.get(FOCAL_PLANE_RESOLUTION_UNIT, DEFAULT_UNIT))
    if per_unit is None or unit not in UNIT_MM:
        return None
    return per_unit / UNIT_MM[unit]


def _digital_zoom(value: Any) -> float | None:
    """Give the ratio; the standard writes 0 when no digital zoom was used."""
    number = _number(value)
    if number is None or number < 0:
        return None
    return number or 1.0


def _recorded_size(camera: Mapping[int, Any]) -> tuple[int, int] | None:
    width = _whole(camera.get(PIXEL_X_DIMENSION))
    height = _whole(camera.get(PIXEL_Y_DIMENSION))
    if not width or not height:
        return None
    sane = 0 < width < LARGEST_SIDE_PX and 0 < height < LARGEST_SIDE_PX
    return (width, height) if sane else None


def _taken_at(main: Mapping[int, Any], camera: Mapping[int, Any]) -> datetime | None:
    """Give the camera's clock, without a time zone: most cameras do not know theirs."""
    values = (
        camera.get(DATE_TIME_ORIGINAL),
        camera.get(DATE_TIME_DIGITIZED),
        main.get(DATE_TIME),
    )
    for value in values:
        written = (_text(value) or "")[:19]
        try:
            return datetime.strptime(written, "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 see above
        except ValueError:
            continue
    return None


def _text(value: Any) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if not isinstance(value, str):
        return None
    return " ".join(value.split("\0")[0].split()) or None


def _number(value: Any) -> float | None:
    if isinstance(value, tuple | list) and value:
        value = value[0]
    try:
        number = float(value)
    except (TypeError, ValueError, ArithmeticError):
        return None
    return number if isfinite(number) else None


def _positive(value: Any) -> float | None:
    number = _number(value)
    return number if number is not None and number > 0 else None


def _whole(value: Any) -> int | None:
    number = _number(value)
    return int(number) if number is not None else None
