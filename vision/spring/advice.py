"""Measured springs in, plain words on what limits them and what would help out."""

from calib.records import Calibration
from vision.records.measured import SpringMeasurement, Unmeasured

Springs = tuple[SpringMeasurement | Unmeasured, ...]


def warn(springs: Springs, calibration: Calibration) -> tuple[str, ...]:
    return ()


def advise(springs: Springs, calibration: Calibration) -> tuple[str, ...]:
    return ()
