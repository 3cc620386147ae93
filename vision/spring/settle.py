"""A calibration and the row in; the calibration settled on the whole row out.

A target of 50 mm fixes the plate's level and the row's direction at the end of a 300 mm
row only roughly. The row knows more: its feet show where the plate lies, springs of one
size how the row runs in depth, its tops from how high the lens sees them.
"""

import numpy as np

from calib.calibrate import calibrate
from calib.errors import MeasureError
from calib.quantity import Influence, Quantity
from calib.records import Calibration, Photo
from vision.records.measured import Outline
from vision.spring.alike import learn_from_sizes
from vision.spring.feet import doubts_px, learn_from_feet
from vision.spring.foot import Foot, find_foot, read_foot
from vision.spring.moving import moved_calibration
from vision.spring.solid import Seen, look
from vision.spring.tops import learn_from_tops

AGAIN_U = 2.0  # so many u of what the row told of the focal length are left open
NEAR, PASSES = 0.05, 3  # change of the focal length within linear reach; passes at most


def settle(
    photo: Photo, calibration: Calibration, outlines: tuple[Outline, ...]
) -> Calibration:
    """Settle the calibration on the row, as far as the row tells anything."""
    if not outlines:
        return calibration
    seen = tuple(look(outline, calibration.camera) for outline in outlines)
    settled = _settled(photo, calibration, seen)
    if calibration.focal_known or photo.sha256 != calibration.photo_sha256:
        return settled
    for _ in range(PASSES - 1):
        again = _calibrated_again(photo, calibration, settled)
        if again is None:
            break
        calibration, settled = again, _settled(photo, again, seen)
    return settled


def _settled(
    photo: Photo, calibration: Calibration, seen: tuple[Seen, ...]
) -> Calibration:
    belief = learn_from_feet(calibration, _read_feet(photo, calibration, seen))
    belief = learn_from_sizes(calibration, belief, seen)
    belief = learn_from_tops(calibration, belief, seen)
    return moved_calibration(calibration, belief)


def _calibrated_again(
    photo: Photo, before: Calibration, settled: Calibration
) -> Calibration | None:
    """Solve the target again with the focal length that the row told, if it did.

    A focal length that was a guess is off by more than linear steps reach.
    """
    told = settled.camera.focal_px
    moved = abs(float(np.log(told / before.camera.focal_px)))
    if moved < NEAR:
        return None
    u = max(AGAIN_U * _focal_u(settled), moved)
    influence = Influence(source="row", label="focal length", u=u * told)
    focal_px = Quantity(value=told, unit="px", influences=(influence,))
    try:
        return calibrate(photo, before.reference, focal_px=focal_px)
    except MeasureError:  # the target is not found so: what was found first stays
        return None


def _focal_u(calibration: Calibration) -> float:
    """Give the relative u of the focal length."""
    logs = np.log([each.camera.focal_px for each in calibration.variants])
    return float(np.linalg.norm(logs - np.log(calibration.camera.focal_px)))


def _read_feet(
    photo: Photo, calibration: Calibration, seen: tuple[Seen, ...]
) -> list[Foot]:
    expected = (find_foot(calibration, each) for each in seen)
    feet = (
        read_foot(photo, foot, doubts_px(calibration, foot))
        for foot in expected
        if foot is not None
    )
    return [foot for foot in feet if foot is not None]
