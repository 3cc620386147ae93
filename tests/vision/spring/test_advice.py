"""Advice and warnings: what limits the result, with figures from the budget."""

import re
from dataclasses import replace

import numpy as np
import pytest

from calib.records import Calibration
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import LEVEL, Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    nominal_staging,
    target_points,
)
from vision.records.measured import Reason, SpringMeasurement, Unmeasured
from vision.spring.advice import advise, warn
from vision.spring.measure import measure_spring

HIGH = Place(position_mm=(0.0, -800.0, 130.0), pitch_deg=5.0)
STEEP = Place(position_mm=(0.0, -700.0, 190.0), pitch_deg=11.0)

Springs = tuple[SpringMeasurement | Unmeasured, ...]


def staged(place: Place, x_mm: float = -60.0) -> tuple[Springs, Calibration]:
    """One spring seen from a place, calibrated on the card."""
    observed = target_points(nominal_staging(place), None)
    calibration = calibrate_points(observed, make_camera(place))
    outline = make_outline(Helix(foot_x_mm=x_mm), place)
    return (measure_spring(outline, calibration, "a" * 64),), calibration


def test_a_high_lens_is_to_be_lowered() -> None:
    """The advice names the lens's height over the tops and what lowering it brings."""
    said = [each for each in advise(*staged(HIGH)) if "spring tops" in each]

    assert len(said) == 1
    assert "the lens is 82 mm above the spring tops: lower it" in said[0]
    now, then = (float(each) for each in re.findall(r"(\d\.\d\d)(?= to| mm)", said[0]))
    assert then < now


def test_a_level_lens_needs_no_moving() -> None:
    """Level with the tops, nothing is said about the lens's height."""
    assert not [each for each in advise(*staged(LEVEL)) if "spring tops" in each]


def test_u_before_is_the_stated_u() -> None:
    """The first figure is the median U that the table shows."""
    springs, calibration = staged(HIGH)
    (spring,) = springs
    assert isinstance(spring, SpringMeasurement)
    stated = next(iter(spring.values.values())).expanded

    said = advise(springs, calibration)

    assert said
    assert all(f"from {stated:.2f} to" in each for each in said)


def refused(position: int, reason: Reason) -> Unmeasured:
    """A spring that was not measured."""
    box = (0.0, 0.0, 1.0, 1.0)
    return Unmeasured(position=position, reason=reason, detail="", box_px=box)


def test_every_reason_tells_what_another_photo_needs() -> None:
    """No spring stays unmeasured without a word on what to do about it."""
    _, calibration = staged(LEVEL)
    for number, reason in enumerate(Reason, start=1):
        (said,) = advise((refused(number, reason),), calibration)
        assert said.startswith(f"spring {number}: ")


def test_springs_refused_for_one_reason_are_advised_together() -> None:
    """Each reason is one line, in the order of the row."""
    _, calibration = staged(LEVEL)
    reasons = [Reason.GLARE, Reason.TOUCHES, Reason.TOUCHES, Reason.GLARE, Reason.GLARE]
    lost = tuple(refused(k, each) for k, each in enumerate(reasons, start=1))

    said = advise(lost, calibration)

    assert [each.split(":")[0] for each in said] == [
        "springs 1, 4 and 5",
        "springs 2 and 3",
    ]


def test_looking_steeply_down_is_warned_of() -> None:
    """A pitch of 11 degrees is named; one of 5 is not."""
    assert any("11° down" in each for each in warn(*staged(STEEP)))
    assert not any("° down" in each for each in warn(*staged(HIGH)))


@pytest.mark.parametrize(("x_mm", "far"), [(-60.0, False), (-190.0, True)])
def test_a_distant_target_is_warned_of(x_mm: float, *, far: bool) -> None:
    """Beyond two of its own sides the target says little."""
    springs, calibration = staged(LEVEL, x_mm)
    corners = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]]) * 7.0
    outline = corners + calibration.camera.centre_px
    calibration = replace(calibration, target_outline_px=outline)

    said = [each for each in warn(springs, calibration) if "target sides" in each]

    assert bool(said) is far


def test_a_row_far_from_the_target_is_to_be_set_straight() -> None:
    """Seen from above, a row that runs askew costs most far from the target."""
    said = advise(*staged(STEEP, x_mm=-140.0))

    assert any("set both along one straightedge" in each for each in said)
