"""Two views a quarter turn apart: the whole lean, and springs that changed places."""

from dataclasses import replace
from math import atan, degrees, hypot, pi

import numpy as np
import pytest

from calib.quantity import Influence, Quantity
from calib.records import Calibration
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import ABOVE, ASIDE, LEVEL, Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    make_calibration,
    nominal_staging,
    target_points,
)
from vision.records.measured import (
    Characteristic,
    Reason,
    SpringMeasurement,
    Unmeasured,
)
from vision.spring.measure import measure_spring
from vision.spring.turn import Sight, join_views, mean, whole

LEAN_DEG = 0.03  # half of what the whole lean is to reach
E1_MM = 0.03
FIRST, SECOND = "a" * 64, "b" * 64


def turned(helix: Helix) -> Helix:
    """The same spring a quarter turn on, counter-clockwise seen from above."""
    return replace(
        helix,
        slope_x=-helix.slope_y,
        slope_y=helix.slope_x,
        azimuth_rad=helix.azimuth_rad + pi / 2,
    )


def sights(
    first: Helix, second: Helix, place: Place, calibration: Calibration | None = None
) -> tuple[Sight, Sight]:
    known = calibration or make_calibration(make_camera(place))
    one, two = (
        Sight(
            outline=make_outline(helix, place),
            calibration=known,
            photo_sha256=sha256,
        )
        for helix, sha256 in ((first, FIRST), (second, SECOND))
    )
    return one, two


def joined(helix: Helix, place: Place) -> SpringMeasurement:
    found = join_views(*sights(helix, turned(helix), place))
    assert isinstance(found, SpringMeasurement)
    return found


@pytest.mark.parametrize(
    ("place", "slopes"),
    [
        (LEVEL, (0.03, 0.0)),
        (ASIDE, (0.0, -0.03)),
        (ASIDE, (-0.02, 0.035)),
        (ABOVE, (-0.02, 0.035)),
    ],
)
def test_whole_lean_and_e1(place: Place, slopes: tuple[float, float]) -> None:
    """Lean is the angle between the end coils' centres, e1 = height between * tan."""
    helix = Helix(slope_x=slopes[0], slope_y=slopes[1])

    values = joined(helix, place).values

    tangent = hypot(*slopes)
    lean = values[Characteristic.LEAN].value
    assert lean == pytest.approx(degrees(atan(tangent)), abs=LEAN_DEG)
    e1 = values[Characteristic.SQUARENESS].value
    assert e1 == pytest.approx((48.0 - 4.0) * tangent, abs=E1_MM)


def test_parts_of_the_lean_keep_their_direction() -> None:
    """To the right and away from the camera, as it stood in the first photo."""
    right, away = joined(Helix(slope_x=0.02, slope_y=-0.03), LEVEL).lean_parts_deg

    assert away is not None
    assert right.value == pytest.approx(degrees(0.02), abs=LEAN_DEG)
    assert away.value == pytest.approx(-degrees(0.03), abs=LEAN_DEG)


def test_second_view_takes_out_the_depth_lean_of_the_first() -> None:
    """150 mm beside the lens, one view reads 0.3 degrees of a lean in depth as its own.

    The geometry: x * ly / Z, here 150 * 0.03 / 800 = 0.0056, or 0.32 degrees.
    """
    helix = Helix(slope_y=0.03)
    calibration = make_calibration(make_camera(ASIDE))
    alone = measure_spring(make_outline(helix, ASIDE), calibration, FIRST)
    assert isinstance(alone, SpringMeasurement)

    right, _ = joined(helix, ASIDE).lean_parts_deg

    assert alone.lean_parts_deg[0].value == pytest.approx(0.32, abs=0.03)
    assert right.value == pytest.approx(0.0, abs=LEAN_DEG)


def test_one_view_sees_only_its_own_part() -> None:
    """A spring leaning straight away looks square from the front."""
    helix = Helix(slope_y=0.04)
    calibration = make_calibration(make_camera(LEVEL))

    alone = measure_spring(make_outline(helix, LEVEL), calibration, FIRST)

    assert isinstance(alone, SpringMeasurement)
    assert alone.views == 1
    assert alone.lean_parts_deg[1] is None
    assert alone.values[Characteristic.SQUARENESS].value < 0.05


def test_two_views_are_surer_than_one() -> None:
    """The whole lean's U is below that of one view's part, which misses the depth."""
    camera = make_camera(LEVEL)
    calibration = calibrate_points(target_points(nominal_staging(), None), camera)
    helix = Helix(slope_x=0.02, foot_x_mm=90.0)
    pair = sights(helix, turned(helix), LEVEL, calibration)
    alone = measure_spring(pair[0].outline, calibration, FIRST)
    assert isinstance(alone, SpringMeasurement)

    both = join_views(*pair)

    assert isinstance(both, SpringMeasurement)
    one, two = (each.values[Characteristic.LEAN] for each in (alone, both))
    assert two.expanded < one.expanded


@pytest.mark.parametrize(
    ("other", "what"),
    [
        (replace(Helix(), height_mm=46.5), "free height"),
        (replace(Helix(), outside_mm=30.0, top_outside_mm=30.0), "outside diameter"),
    ],
)
def test_springs_that_changed_places_are_named(other: Helix, what: str) -> None:
    """Another spring in the second photo is no second view of the first."""
    found = join_views(*sights(Helix(), turned(other), LEVEL))

    assert isinstance(found, Unmeasured)
    assert found.reason is Reason.MOVED
    assert what in found.detail
    assert "mm in the first photo and" in found.detail


def test_a_second_view_that_cannot_be_read_leaves_the_spring_unmeasured() -> None:
    """The reason names the photo."""
    one, two = sights(Helix(), turned(Helix()), LEVEL)
    blind = replace(two, outline=replace(two.outline, left=two.outline.foot))

    found = join_views(one, blind)

    assert isinstance(found, Unmeasured)
    assert "second photo" in found.detail
    assert found.position == 1


def quantity(value: float, u: float, source: str) -> Quantity:
    part = Influence(source=source, label=source, u=u)
    return Quantity(value=value, unit="mm", influences=(part,))


def test_mean_weighs_by_each_views_own_u() -> None:
    """Weights 1/u^2: 10.0 with u 0.1 and 10.3 with u 0.2 give 10.06, u 0.0894.

    Weighted mean of two independent values, JCGM 100:2008, 5.1.2 applied to it.
    """
    found = mean(quantity(10.0, 0.1, "one"), quantity(10.3, 0.2, "two"))

    assert found.value == pytest.approx(10.06)
    assert found.u == pytest.approx(0.1 * 0.2 / hypot(0.1, 0.2))


def test_mean_keeps_what_both_share() -> None:
    """A common scale does not average out."""
    found = mean(quantity(10.0, 0.1, "scale"), quantity(10.0, 0.1, "scale"))

    assert found.u == pytest.approx(0.1)


def test_what_misleads_both_views_alike_does_not_average_out() -> None:
    """The target's pose has its own source in each photo, and one cause."""
    one, two = (
        Quantity(
            value=10.0,
            unit="mm",
            influences=(
                Influence(source=f"pose 1|{photo}", label="pose", u=0.03),
                Influence(source=f"pose 2|{photo}", label="pose", u=-0.04),
                Influence(source=f"noise|{photo}/3", label="noise", u=0.02),
            ),
        )
        for photo in (FIRST, SECOND)
    )

    found = mean(one, two)

    assert found.u == pytest.approx(hypot(0.05, 0.02 / np.sqrt(2)))


def test_whole_lean_of_two_parts() -> None:
    """3 and 4 make 5, with sensitivities 0.6 and 0.8."""
    found = whole(quantity(3.0, 0.1, "one"), quantity(4.0, 0.2, "two"))

    assert found.value == pytest.approx(5.0)
    assert found.u == pytest.approx(hypot(0.06, 0.16))


def test_no_lean_still_has_an_uncertainty() -> None:
    """At zero the direction is unknown, but the parts' doubts remain."""
    found = whole(quantity(0.0, 0.1, "one"), quantity(0.0, 0.1, "two"))

    assert found.value == pytest.approx(0.0, abs=0.0)
    assert found.u >= 0.1


def test_quarter_turn_of_the_test_itself() -> None:
    """Four quarter turns bring a spring back."""
    helix = Helix(slope_x=0.02, slope_y=-0.03)

    again = turned(turned(turned(turned(helix))))

    assert np.allclose((again.slope_x, again.slope_y), (0.02, -0.03))
