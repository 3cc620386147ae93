"""What the tops' outlines say of the slope of sight, from exact outlines."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import Calibration
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline, some_coils
from tests.vision.spring.places import Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    nominal_staging,
    target_points,
)
from vision.spring.moving import moved_calibration, nothing_known
from vision.spring.solid import Seen, look
from vision.spring.tops import learn_from_tops

PLACES = {
    "above the tops": Place(position_mm=(0.0, -800.0, 90.0), pitch_deg=3.0),
    "level with the tops": Place(position_mm=(0.0, -800.0, 48.0), pitch_deg=0.0),
    "below the tops": Place(position_mm=(0.0, -800.0, 20.0), pitch_deg=-1.0),
}
ROW_MM = (-130.0, -90.0, -50.0, 90.0, 130.0)
TURNS_RAD = (0.4, 1.7, 2.9, 4.1, 5.5)  # where the springs' tips happen to be
LEANING_DEG = 0.6  # a card that stands two u askew turns the plate with it


def springs(place: Place) -> tuple[Seen, ...]:
    camera = make_camera(place)
    return tuple(
        look(make_outline(Helix(foot_x_mm=x, azimuth_rad=turn), place), camera)
        for x, turn in zip(ROW_MM, TURNS_RAD, strict=True)
    )


def calibrated(place: Place, leaning_deg: float) -> Calibration:
    staging = replace(nominal_staging(place), leaning_rad=np.radians(leaning_deg))
    return calibrate_points(target_points(staging, None), make_camera(place))


def slope(calibration: Calibration) -> float:
    """Slope of sight on the tops, in mm per m."""
    _, y, z = calibration.camera.position_mm
    return 1000 * float((z - 48.0) / -y)


def u_slope(calibration: Calibration) -> float:
    base = slope(calibration)
    moves = [
        slope(replace(calibration, camera=each.camera)) - base
        for each in calibration.variants
    ]
    return float(np.linalg.norm(moves))


def learned(calibration: Calibration, place: Place) -> Calibration:
    belief = learn_from_tops(calibration, nothing_known(calibration), springs(place))
    return moved_calibration(calibration, belief)


@pytest.mark.parametrize("name", PLACES)
def test_tops_bring_a_tilted_camera_back(name: str) -> None:
    """The slope of sight comes to within 3 mm per m: 0.05 mm on a 31 mm spring."""
    place = PLACES[name]
    tilted = calibrated(place, LEANING_DEG)
    true = slope(replace(tilted, camera=make_camera(place)))
    before = abs(slope(tilted) - true)

    after = abs(slope(learned(tilted, place)) - true)

    assert before > 6.0
    assert after < 3.0


@pytest.mark.parametrize("name", PLACES)
def test_what_tops_say_keeps_its_promise(name: str) -> None:
    """The slope is surer than before, and off by no more than U says."""
    place = PLACES[name]
    sound = calibrated(place, 0.0)
    true = slope(replace(sound, camera=make_camera(place)))

    after = learned(sound, place)

    assert u_slope(after) < 0.5 * u_slope(sound)
    assert abs(slope(after) - true) <= 2 * u_slope(after)


def test_springs_without_an_axis_say_nothing() -> None:
    """Where too few coils are seen the camera stays as it is believed."""
    place = PLACES["above the tops"]
    sound = calibrated(place, 0.0)
    unseen = tuple(
        replace(each, left=some_coils(each.left, slice(1))) for each in springs(place)
    )

    belief = learn_from_tops(sound, nothing_known(sound), unseen)

    assert np.abs(belief.mean).max() < 1e-6
