"""Pictures and calibrations as commands name them."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from calib.calibrate import calibrate
from calib.errors import PhotoError, TargetError
from calib.lens import load_lens
from calib.photo import read_photo
from calib.store import load_calibration, load_reference
from vision.pipeline import measure_row, measure_turned_row

if TYPE_CHECKING:
    from calib.records import Calibration, Lens, Photo, Reference
    from vision.records.measured import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """How a target in a photo is to be understood."""

    reference: "Reference"
    lens: "Lens | None" = None
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """Photos as read, and the row measured in them."""

    photos: "tuple[Photo, ...]"
    row: "Row"


def read_target(
    reference: Path, lens: Path | None = None, distance_mm: float | None = None
) -> Target:
    """Read the files that describe a target and the lens."""
    return Target(
        reference=load_reference(reference),
        lens=load_lens(lens) if lens else None,
        distance_mm=distance_mm,
    )


def calibrate_photo(path: Path, target: Target) -> "Calibration":
    """Read a photo and calibrate on the target in it."""
    return _calibrated(read_photo(path), target)


def _calibrated(photo: "Photo", target: Target) -> "Calibration":
    return calibrate(
        photo, target.reference, lens=target.lens, distance_mm=target.distance_mm
    )


def measure_photos(
    first: Path, second: Path | None, calibration: Path | None, target: Target | None
) -> Measured:
    """Measure a row from one photo, or from two with a quarter turn between them."""
    photo = read_photo(first)
    if calibration is not None:
        known = load_calibration(calibration)
    else:
        assert target is not None  # noqa: S101 - the command has checked
        known = _calibrated(photo, target)
    if second is None:
        return Measured(photos=(photo,), row=measure_row(photo, known))
    turned = read_photo(second)
    if turned.sha256 == photo.sha256:
        raise PhotoError(
            str(second),
            f"is the same picture as {first}",
            "Turn each spring a quarter turn and photograph the row again",
        )
    again = known
    if target is not None:
        try:
            again = _calibrated(turned, target)
        except TargetError:
            again = known  # the target was taken away; the camera must not have moved
    row = measure_turned_row(photo, turned, known, again)
    return Measured(photos=(photo, turned), row=row)
