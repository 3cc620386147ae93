"""A calibration and the row in; the calibration settled on the whole row out.

A target of 50 mm fixes the plate's level and the row's direction at the end of a 300 mm
row only roughly. The row knows more: its feet show where the plate lies, its tops from
how high the lens sees them.
"""

from calib.records import Calibration, Photo
from vision.records.measured import Outline
from vision.spring.feet import doubts_px, learn_from_feet
from vision.spring.foot import Foot, find_foot, read_foot
from vision.spring.moving import moved_calibration
from vision.spring.solid import Seen, look
from vision.spring.tops import learn_from_tops


def settle(
    photo: Photo, calibration: Calibration, outlines: tuple[Outline, ...]
) -> Calibration:
    """Settle the calibration on the row, as far as the row tells anything."""
    if not outlines:
        return calibration
    seen = tuple(look(outline, calibration.camera) for outline in outlines)
    belief = learn_from_feet(calibration, _read_feet(photo, calibration, seen))
    belief = learn_from_tops(calibration, belief, seen)
    return moved_calibration(calibration, belief)


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
