"""The stages together, from a painted picture to a measured row."""

from dataclasses import replace
from math import atan, degrees, hypot

import pytest

from calib.calibrate import calibrate
from calib.errors import PhotoError
from calib.records import Calibration, Camera, Photo
from tests.vision.painting import paint
from tests.vision.scenery import (
    USUAL,
    Card,
    Scene,
    Square,
    look_at_row,
    make_row,
    reference_of,
)
from tests.vision.spring.helix import Helix
from vision.pipeline import measure_row, measure_turned_row
from vision.records.measured import (
    Characteristic,
    Reason,
    Row,
    SpringMeasurement,
    Unmeasured,
)

HEIGHT_MM, LEAN_DEG = 0.15, 0.3  # what a well-staged picture is to reach
MOST_U_MM = 0.35  # by a card of 50 mm in 1.2 Mpx, however it was staged
DIAMETER_MM = 0.1
ROW_MM = (-80.0, -40.0, 85.0)
CAMERA = look_at_row()


def calibrated(photo: Photo, target: Card | Square) -> Calibration:
    return calibrate(photo, reference_of(target))


def measured(scene: Scene, camera: Camera = CAMERA) -> Row:
    photo = paint(scene, camera)
    assert scene.target is not None
    return measure_row(photo, calibrated(photo, scene.target))


def check_against(row: Row, springs: tuple[Helix, ...]) -> None:
    """Hold height, lean and diameter of each spring against what was painted."""
    assert len(row.springs) == len(springs)
    for found, helix in zip(row.springs, springs, strict=True):
        assert isinstance(found, SpringMeasurement)
        height = found.values[Characteristic.FREE_HEIGHT]
        lean = found.values[Characteristic.LEAN]
        width = found.values[Characteristic.OUTSIDE_DIAMETER]
        lean_deg = degrees(atan(helix.slope_x))
        assert abs(height.value - helix.height_mm) <= height.expanded <= MOST_U_MM
        assert lean.value == pytest.approx(lean_deg, abs=LEAN_DEG)
        assert abs(lean.value - lean_deg) <= lean.expanded
        assert width.value == pytest.approx(helix.outside_mm, abs=DIAMETER_MM)
        assert abs(width.value - helix.outside_mm) <= width.expanded


@pytest.mark.parametrize("target", [Square(), Card(face_offset_mm=12.0)])
def test_row_is_measured_with_the_target_in_it(target: Card | Square) -> None:
    """Heights, leans and diameters come out as painted, inside their U."""
    springs = make_row(ROW_MM)

    row = measured(Scene(springs=springs, target=target))

    check_against(row, springs)
    for found, helix in zip(row.springs, springs, strict=True):
        assert isinstance(found, SpringMeasurement)
        height = found.values[Characteristic.FREE_HEIGHT]
        assert height.value == pytest.approx(helix.height_mm, abs=HEIGHT_MM)
    assert [each.position for each in row.springs] == [1, 2, 3]
    assert row.photo_names == ("painted.png",)


@pytest.mark.parametrize(
    "camera",
    [
        look_at_row(position_mm=(10.0, -700.0, 95.0), turned_deg=(4.0, 0.5, -0.5)),
        look_at_row((1200, 1600), 6.0, (0.0, -700.0, 50.0), (0.5, 0.3, -0.4)),
    ],
    ids=["above", "portrait"],
)
def test_row_is_measured_from_elsewhere(camera: Camera) -> None:
    """A lens above the tops, looking down, and a picture higher than wide."""
    springs = make_row((-70.0, -35.0, 80.0))

    check_against(measured(Scene(springs=springs), camera), springs)


def test_row_is_measured_on_a_calibration_from_before() -> None:
    """The target was photographed alone; the camera has not moved since."""
    springs = make_row(ROW_MM)
    alone = paint(Scene(), CAMERA, "target.png")
    row_photo = paint(Scene(springs=springs, target=None, seed=2), CAMERA, "row.png")

    row = measure_row(row_photo, calibrated(alone, Card()))

    check_against(row, springs)


@pytest.mark.parametrize("height_mm", [46.5, 48.0, 54.0, 58.0])
def test_a_camera_that_moved_is_refused(height_mm: float) -> None:
    """The row was photographed from 0.5 to 12 mm higher up than the target.

    From 54 mm on the plate's back edge is seen where the card's lower edge was.
    """
    alone = paint(Scene(), CAMERA, "target.png")
    moved = look_at_row(position_mm=(20.0, -700.0, height_mm))
    row = Scene(springs=make_row(ROW_MM), target=None, seed=2)

    with pytest.raises(PhotoError, match=r"row\.png: "):
        measure_row(paint(row, moved, "row.png"), calibrated(alone, Card()))


def test_an_empty_row_is_refused_in_one_sentence() -> None:
    """Nothing stands on the plate but the target."""
    with pytest.raises(PhotoError) as refusal:
        measured(Scene())

    assert str(refusal.value).startswith("painted.png: no spring was found")


def test_touching_springs_name_each_other() -> None:
    """Spring 2 touches spring 3 and spring 3 touches spring 2; 1 and 4 are measured."""
    row = measured(Scene(springs=make_row((-85.0, -50.0, -26.0, 90.0))))

    one, two, three, four = row.springs
    assert isinstance(one, SpringMeasurement)
    assert isinstance(four, SpringMeasurement)
    assert isinstance(two, Unmeasured)
    assert isinstance(three, Unmeasured)
    assert two.reason is three.reason is Reason.TOUCHES
    assert "spring 3" in two.detail
    assert "spring 2" in three.detail


def test_a_second_row_behind_the_first_is_noticed() -> None:
    """Two springs show others behind them; the third might hide one as well."""
    front = make_row((-80.0, -25.0, 85.0))
    behind = tuple(
        replace(
            each, foot_x_mm=each.foot_x_mm + aside, foot_y_mm=45.0, azimuth_rad=turn
        )
        for each, aside, turn in zip(front, (9.0, -8.0), (2.0, 4.5), strict=False)
    )

    row = measured(Scene(springs=(*behind, *front)))

    reasons = [getattr(each, "reason", None) for each in row.springs]
    assert reasons == [Reason.TWO_SPRINGS, Reason.TWO_SPRINGS, Reason.BEFORE_OTHERS]
    assert any("one row at a time" in each for each in row.advice)


def test_a_target_partly_hidden_by_a_spring() -> None:
    """A spring that stands before the end of the stock leaves the rest usable."""
    springs = make_row((-60.0, 56.0, 95.0))

    row = measured(Scene(springs=springs, target=Square(face_offset_mm=-2.0)))

    for found, helix in ((row.springs[0], springs[0]), (row.springs[-1], springs[-1])):
        assert isinstance(found, SpringMeasurement)
        height = found.values[Characteristic.FREE_HEIGHT]
        assert height.value == pytest.approx(helix.height_mm, abs=HEIGHT_MM)
        assert abs(height.value - helix.height_mm) <= height.expanded


def turned(helix: Helix) -> Helix:
    """A quarter turn counter-clockwise, seen from above."""
    return replace(
        helix,
        slope_x=-helix.slope_y,
        slope_y=helix.slope_x,
        azimuth_rad=helix.azimuth_rad + 1.5708,
    )


def leaning_row(places_mm: tuple[float, ...]) -> tuple[Helix, ...]:
    return tuple(
        replace(each, slope_y=0.02 * (2 * number - 1))
        for number, each in enumerate(make_row(places_mm))
    )


def turned_pair(
    springs: tuple[Helix, ...], again: tuple[Helix, ...]
) -> tuple[Photo, Photo, Calibration, Calibration]:
    first = paint(Scene(springs=springs), CAMERA, "first.png")
    second = paint(Scene(springs=again, seed=3), CAMERA, "second.png")
    return first, second, calibrated(first, Card()), calibrated(second, Card())


def test_quarter_turn_gives_whole_lean_and_e1() -> None:
    """Two pictures, every spring turned in between."""
    springs = leaning_row((-48.0, 88.0))

    row = measure_turned_row(
        *turned_pair(springs, tuple(turned(each) for each in springs))
    )

    assert row.photo_names == ("first.png", "second.png")
    for found, helix in zip(row.springs, springs, strict=True):
        assert isinstance(found, SpringMeasurement)
        tangent = hypot(helix.slope_x, helix.slope_y)
        lean = found.values[Characteristic.LEAN]
        e1 = found.values[Characteristic.SQUARENESS]
        assert found.views == 2
        assert lean.value == pytest.approx(degrees(atan(tangent)), abs=0.15)
        assert abs(lean.value - degrees(atan(tangent))) <= lean.expanded
        expected = (helix.height_mm - helix.wire_mm) * tangent
        assert e1.value == pytest.approx(expected, abs=0.15)


def test_a_spring_missing_from_the_second_photo_is_told() -> None:
    """Two springs before, one after: nothing can be joined."""
    springs = make_row((-48.0, 88.0))
    pair = turned_pair(springs, tuple(turned(each) for each in springs[:1]))

    with pytest.raises(PhotoError, match=r"second\.png: shows 1 spring where first"):
        measure_turned_row(*pair)


def test_same_picture_gives_the_same_values() -> None:
    """Nothing is random, nothing depends on what was measured before."""
    photo = paint(Scene(springs=make_row((88.0,), USUAL)), CAMERA)
    calibration = calibrated(photo, Card())

    one, other = (measure_row(photo, calibration) for _ in range(2))

    for first, second in zip(one.springs, other.springs, strict=True):
        assert isinstance(first, SpringMeasurement)
        assert isinstance(second, SpringMeasurement)
        assert first.values == second.values
