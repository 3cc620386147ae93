"""A calibration and the row in; the calibration settled on the whole row out.

A target of 50 mm fixes the plate's level and the row's direction at the end of a 300 mm
row only roughly. The row knows more: its feet show where the plate lies, springs of one
size how the row runs in depth, its tops from how high the lens sees them.
"""

from calib.records import Calibration, Photo
from vision.records.measured import Outline
from vision.spring.alike import learn_from_sizes
from vision.spring.feet import learn_from_feet
from vision.spring.focal import settle_focal
from vision.spring.foot import Foot, find_foot, read_foot
from vision.spring.moving import moved_calibration, nothing_known
from vision.spring.sayings import doubts_px
from vision.spring.solid import Seen, look
from vision.spring.tops import learn_from_tops


def settle(
    photo: Photo, calibration: Calibration, outlines: tuple[Outline, ...]
) -> Calibration:
    """Settle the calibration on the row, as far as the row tells anything."""
    if not outlines:
        return calibration
    seen = tuple(look(outline, calibration.camera) for outline in outlines)
    if calibration.focal_cases:
        return settle_focal(
            calibration, seen, lambda settled: _read_feet(photo, settled, seen)
        )
    feet = [foot for _, foot in _read_feet(photo, calibration, seen)]
    belief = learn_from_feet(calibration, nothing_known(calibration), feet)
    belief = learn_from_sizes(calibration, belief, seen)
    belief = learn_from_tops(calibration, belief, seen)
    return moved_calibration(calibration, belief)


def _read_feet(
    photo: Photo, calibration: Calibration, seen: tuple[Seen, ...]
) -> list[tuple[Seen, Foot]]:
    """Read the feet that show a clear edge where the calibration expects them."""
    feet = []
    for each in seen:
        awaited = find_foot(calibration, each)
        if awaited is None:
            continue
        foot = read_foot(photo, awaited, doubts_px(calibration, awaited))
        if foot is not None:
            feet.append((each, foot))
    return feet
