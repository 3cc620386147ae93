"""One spring from one view: values, drawing, and refusals with their reason."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import EdgePoints, Floats
from tests.vision.spring.helix import Helix, edge_points
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import ASIDE, LEVEL, make_camera, seen
from tests.vision.spring.staging import make_calibration
from vision.records.measured import (
    Characteristic,
    Outline,
    Reason,
    SpringMeasurement,
    Unmeasured,
)
from vision.spring.measure import measure_spring

PHOTO = "e" * 64
NOTHING = edge_points(np.zeros((0, 2)), np.zeros((0, 2)))
PX_PER_MM = 7.0


def measured(outline: Outline) -> SpringMeasurement | Unmeasured:
    return measure_spring(outline, make_calibration(make_camera(LEVEL)), PHOTO)


def moved(points: EdgePoints, by_px: Floats) -> EdgePoints:
    return replace(points, points_px=points.points_px + by_px)


def below(points: EdgePoints, line_px: float) -> EdgePoints:
    return points.chosen(points.points_px[:, 1] > line_px)


def test_every_value_of_a_leaning_spring() -> None:
    """Height, lean, gap, diameter, wire and coils, each with an uncertainty."""
    found = measured(make_outline(Helix(slope_x=0.03), LEVEL))

    assert isinstance(found, SpringMeasurement)
    values = {each.key: found.values[each] for each in found.values}
    assert values["free_height"].value == pytest.approx(48.0, abs=0.02)
    assert values["lean"].value == pytest.approx(np.degrees(np.arctan(0.03)), abs=0.02)
    assert values["squareness"].value == pytest.approx(0.03 * (48.0 - 4.0), abs=0.02)
    assert values["outside_diameter"].value == pytest.approx(31.2, abs=0.02)
    assert abs(values["wire_diameter"].value - 4.0) <= values["wire_diameter"].expanded
    assert abs(values["total_coils"].value - 6.5) <= values["total_coils"].expanded
    assert all(each.expanded > 0 for each in values.values())
    assert [each.unit for each in values.values()] == [key.unit for key in found.values]


@pytest.mark.parametrize("slope", [0.03, -0.03])
def test_lean_is_signed_and_squareness_is_not(slope: float) -> None:
    """Positive to the right; the gap is a length."""
    found = measured(make_outline(Helix(slope_x=slope), LEVEL))

    assert isinstance(found, SpringMeasurement)
    assert np.sign(found.values[Characteristic.LEAN].value) == np.sign(slope)
    assert found.values[Characteristic.SQUARENESS].value > 1.0


def test_drawing_lies_on_the_spring() -> None:
    """Axis from the foot's centre to the top's, height line as long as L0."""
    helix = Helix(slope_x=0.03, foot_x_mm=20.0)
    camera = make_camera(ASIDE)

    found = measure_spring(make_outline(helix, ASIDE), make_calibration(camera), PHOTO)

    assert isinstance(found, SpringMeasurement)
    (drawing,) = found.drawings
    ends = seen(camera, np.array([[20.0, 0.0, 0.0], helix.top_centre_mm]))
    np.testing.assert_allclose(drawing.axis_px, ends, rtol=0, atol=0.3)
    height_px = np.linalg.norm(drawing.height_px[1] - drawing.height_px[0])
    assert height_px / PX_PER_MM == pytest.approx(48.0, abs=0.1)
    gap_px = np.linalg.norm(drawing.gap_px[1] - drawing.gap_px[0])
    assert gap_px / PX_PER_MM == pytest.approx(0.03 * 48.0, abs=0.05)
    assert drawing.square_px[0] == pytest.approx(drawing.axis_px[0])


def check_refused(outline: Outline, reason: Reason, words: str) -> None:
    found = measured(outline)
    assert isinstance(found, Unmeasured)
    assert found.reason is reason
    assert words in found.detail
    assert found.box_px == outline.box_px


def test_flanks_that_were_not_seen() -> None:
    """Without a flank there is no axis."""
    outline = replace(make_outline(Helix(), LEVEL), left=NOTHING)

    check_refused(outline, Reason.GLARE, "0 coils seen left")


def test_a_top_that_was_not_seen() -> None:
    """Edges that lie beside the end say nothing of its height."""
    outline = make_outline(Helix(), LEVEL)
    aside = np.array([40.0 * PX_PER_MM, 0.0])

    check_refused(
        replace(outline, top=moved(outline.top, aside)), Reason.GLARE, "top end"
    )


def test_coils_that_stand_about_no_axis() -> None:
    """Every second coil 1.5 mm farther out: this is no spring."""
    outline = make_outline(Helix(), LEVEL)
    height = outline.right.points_px[:, 1]
    order = np.argsort(height)
    odd = np.zeros(len(height))
    odd[order[1:]] = np.cumsum(np.diff(height[order]) > 0.5 * PX_PER_MM) % 2
    away = 1.5 * PX_PER_MM * odd[:, None] * np.array([1.0, 0.0])
    crooked = replace(outline, right=moved(outline.right, away))

    check_refused(crooked, Reason.CONTRADICTS, "coils stray")


def test_a_height_no_valve_spring_has() -> None:
    """An edge found far above the spring is not its top."""
    outline = make_outline(Helix(), LEVEL)
    far = np.array([0.0, -130.0 * PX_PER_MM])

    check_refused(
        replace(outline, top=moved(outline.top, far)),
        Reason.CONTRADICTS,
        "mm high",
    )


def test_a_ragged_top() -> None:
    """Edges that scatter over two millimetres are no ground end."""
    outline = make_outline(Helix(), LEVEL)
    rng = np.random.default_rng(4)
    count = len(outline.top.u_px)
    ragged = np.column_stack([np.zeros(count), rng.uniform(-14.0, 14.0, count)])

    check_refused(
        replace(outline, top=moved(outline.top, ragged)),
        Reason.CONTRADICTS,
        "not that of a ground end",
    )


def test_an_edge_far_above_the_coils_is_no_top() -> None:
    """The plate's far edge, seen 5 mm above a spring, is not the spring's top."""
    outline = make_outline(Helix(), LEVEL)
    higher = replace(outline, top=moved(outline.top, np.array([0.0, -5 * PX_PER_MM])))

    check_refused(higher, Reason.TOP_COILS, "mm above its highest coil")


def test_upper_flanks_that_melt_are_named_so() -> None:
    """Flanks not seen in the upper third: the spring may stand well all the same."""
    outline = make_outline(Helix(), LEVEL)
    ys = outline.right.points_px[:, 1]
    line = float(ys.min()) + float(np.ptp(ys)) / 3
    lower = replace(
        outline, left=below(outline.left, line), right=below(outline.right, line)
    )

    check_refused(lower, Reason.TOP_COILS, "mm above its highest coil")
