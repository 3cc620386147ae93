"""Influences: sensitivities by geometry, what is shared, what cancels, what is own."""

from dataclasses import replace

import numpy as np
import pytest

from calib.quantity import Quantity, difference
from calib.records import Calibration, Camera, Variant
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import INWARD, make_outline, round_end, with_top
from tests.vision.spring.places import ABOVE, LEVEL, Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    make_calibration,
    nominal_staging,
    target_points,
)
from vision.records.measured import Characteristic, SpringMeasurement
from vision.spring.budget import U_DEPTH_MM, U_EDGE_PX
from vision.spring.measure import measure_spring

HEIGHT, WIDTH = Characteristic.FREE_HEIGHT, Characteristic.OUTSIDE_DIAMETER
LEAN = Characteristic.LEAN
ALL_ROUND = np.linspace(0.0, 2 * np.pi, 361)
AGREEMENT = 0.03  # sensitivities are straight lines laid through curves


def measured(
    helix: Helix, place: Place, calibration: Calibration, position: int = 1
) -> dict[Characteristic, Quantity]:
    end = round_end(helix, helix.outside_mm / 2, ALL_ROUND)
    outline = with_top(make_outline(helix, place, position), helix, place, end)
    found = measure_spring(outline, calibration, "c" * 64)
    assert isinstance(found, SpringMeasurement)
    return found.values


def part(quantity: Quantity, label: str) -> float:
    return sum(each.u for each in quantity.influences if each.label == label)


def u_of(quantity: Quantity, sources: set[str]) -> float:
    """Standard uncertainty from some sources alone."""
    parts = [each.u for each in quantity.influences if each.source in sources]
    return float(np.linalg.norm(parts))


def calibrated(place: Place) -> Calibration:
    return calibrate_points(
        target_points(nominal_staging(place), None), make_camera(place)
    )


def one_variant(camera: Camera, **changes: float) -> tuple[Variant, ...]:
    return (Variant(source="only", label="only", camera=camera, **changes),)


def test_place_in_depth_changes_height_by_the_rays_slope() -> None:
    """The rim's far edge is seen along a ray; farther away the ray is lower.

    Lens 110 mm high and 800 mm away, rim 15.6 mm behind the axis, top at 48 mm:
    dL0/dy = (48 - 110) / 815.6.
    """
    values = measured(Helix(), ABOVE, make_calibration(make_camera(ABOVE)))

    expected = U_DEPTH_MM * (48.0 - 110.0) / 815.6
    found = part(values[HEIGHT], "place of the spring in depth")
    assert found == pytest.approx(expected, rel=AGREEMENT)


def test_place_in_depth_changes_width_by_the_distance() -> None:
    """A spring farther away is wider: dDe/dy = De / Z."""
    values = measured(Helix(), LEVEL, make_calibration(make_camera(LEVEL)))

    expected = U_DEPTH_MM * 31.2 / 800.0
    found = part(values[WIDTH], "place of the spring in depth")
    assert found == pytest.approx(expected, rel=AGREEMENT)


def test_edges_farther_out_make_both_edges_farther_out() -> None:
    """One edge counts in the height, two in the width: 7 px per mm."""
    values = measured(Helix(), LEVEL, make_calibration(make_camera(LEVEL)))

    label = "edge of the round wire"
    assert part(values[HEIGHT], label) == pytest.approx(U_EDGE_PX / 7, rel=AGREEMENT)
    assert part(values[WIDTH], label) == pytest.approx(2 * U_EDGE_PX / 7, rel=AGREEMENT)


def test_light_moves_the_edges_of_a_photo_alike() -> None:
    """Two springs lit alike err alike, so it cancels in their difference."""
    calibration = make_calibration(make_camera(LEVEL))
    one, two = (
        measured(Helix(foot_x_mm=place), LEVEL, calibration)[WIDTH]
        for place in (0.0, 40.0)
    )

    label = "light at the wire's edge"
    assert part(one, label) == pytest.approx(2 * INWARD.u_px / 7, rel=AGREEMENT)
    assert part(difference(one, two), label) < 0.1 * part(one, label)


def test_level_lens_hides_where_the_spring_stands_in_depth() -> None:
    """With the lens level with the tops, depth does not change the height."""
    values = measured(Helix(), LEVEL, make_calibration(make_camera(LEVEL)))

    assert part(values[HEIGHT], "place of the spring in depth") == pytest.approx(
        0.0, abs=0.002
    )


def test_scale_is_shared_in_proportion() -> None:
    """A focal length 0.2 % shorter makes everything above the lens axis longer."""
    camera = make_camera(LEVEL)
    shorter = replace(camera, focal_px=camera.focal_px / 1.002)
    calibration = make_calibration(camera, one_variant(shorter))

    values = measured(Helix(), LEVEL, calibration)

    assert part(values[WIDTH], "only") == pytest.approx(0.002 * 31.2, rel=AGREEMENT)


def test_shifted_axis_plane_is_a_variant_like_any_other() -> None:
    """Moving all axes by 0.5 mm does to a spring what its own 0.5 mm does."""
    camera = make_camera(ABOVE)
    variants = one_variant(camera, axis_plane_shift_mm=0.5)

    values = measured(Helix(), ABOVE, make_calibration(camera, variants))

    own = part(values[HEIGHT], "place of the spring in depth") * 0.5 / U_DEPTH_MM
    assert part(values[HEIGHT], "only") == pytest.approx(own, rel=1e-6)


def test_what_is_shared_cancels_in_a_difference() -> None:
    """Of camera, scale and plate hardly anything is left between neighbours."""
    place = Place(position_mm=(0.0, -800.0, 60.0))
    calibration = calibrated(place)
    one = measured(Helix(foot_x_mm=-20.0), place, calibration, 1)[HEIGHT]
    two = measured(Helix(foot_x_mm=20.0), place, calibration, 2)[HEIGHT]

    apart = difference(two, one)

    shared = {each.source for each in one.influences}
    shared &= {each.source for each in two.influences}
    assert len(shared) >= 5
    assert apart.value == pytest.approx(0.0, abs=0.01)
    assert u_of(apart, shared) < 0.25 * u_of(one, shared)
    assert apart.u < 0.75 * np.hypot(one.u, two.u)


def test_own_influences_are_named_after_photo_and_spring() -> None:
    """So two springs of one photo share none of them but the light."""
    calibration = make_calibration(make_camera(LEVEL))

    one = measured(Helix(), LEVEL, calibration, 1)
    two = measured(Helix(), LEVEL, calibration, 2)

    for characteristic in (HEIGHT, LEAN, WIDTH):
        sources = {each.source for each in one[characteristic].influences}
        others = {each.source for each in two[characteristic].influences}
        light = {f"light at the wire's edge|{'c' * 12}"}
        assert sources & others <= light
        assert all(source.endswith("/1") for source in sources - light)


def test_lean_in_depth_grows_with_the_distance_from_the_lens_axis() -> None:
    """x * ly / Z: nothing before the lens, much at the end of the row."""
    calibration = make_calibration(make_camera(LEVEL))
    label = "lean in depth"

    before = measured(Helix(), LEVEL, calibration)[LEAN]
    aside = measured(Helix(foot_x_mm=120.0), LEVEL, calibration)[LEAN]

    expected_deg = np.degrees(0.02 * 120.0 / 800.0)
    assert part(before, label) == pytest.approx(0.0, abs=0.005)
    assert abs(part(aside, label)) == pytest.approx(expected_deg, rel=0.05)


def test_counted_coils_depend_on_no_camera() -> None:
    """Only the counting itself makes them uncertain."""
    values = measured(Helix(), LEVEL, calibrated(LEVEL))

    labels = {each.label for each in values[Characteristic.TOTAL_COILS].influences}
    assert labels == {"coils counted by halves"}


def test_a_straight_spring_has_no_end_diameters() -> None:
    """Bottom and top diameters are told of tapered springs only."""
    calibration = make_calibration(make_camera(LEVEL))

    straight = measured(Helix(), LEVEL, calibration)
    tapered = measured(Helix(top_outside_mm=26.0), LEVEL, calibration)

    assert Characteristic.TOP_DIAMETER not in straight
    assert tapered[Characteristic.TOP_DIAMETER].value < 27.0
