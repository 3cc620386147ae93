"""Axis, radius and taper from exact helices at several places of the camera."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline, some_coils
from tests.vision.spring.places import (
    ASIDE,
    FAR,
    LEVEL,
    NEAR,
    PLACES,
    Place,
    make_camera,
)
from vision.records.measured import Characteristic
from vision.spring.axis import Axis, solve_axis
from vision.spring.budget import values_of
from vision.spring.rays import Stance
from vision.spring.solid import Seen, look, solve_solid

TOPS = slice(-3, None)  # as before a backdrop that ends behind a spring
SLOPE = 0.0003  # 0.02 degrees, a fifth of what a single view is to reach
DIAMETER_MM = 0.02
FOOT_MM = 0.02
TURNS = 0.1
TAPER_END_MM = 0.1  # knots round off the end coils, where a taper stops


def look_at(helix: Helix, place: Place) -> Seen:
    return look(make_outline(helix, place), make_camera(place))


def solved_axis(helix: Helix, place: Place, depth_slope: float | None = None) -> Axis:
    outline = make_outline(helix, place)
    slope = helix.slope_y if depth_slope is None else depth_slope
    stance = Stance(
        camera=make_camera(place), depth_mm=helix.foot_y_mm, depth_slope=slope
    )
    seen = look(outline, make_camera(place))
    return solve_axis(stance, seen.left, seen.right)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("slope_x", [0.035, -0.05])
def test_straight_spring_at_any_camera(place: Place, slope_x: float) -> None:
    """Lean, foot and outside diameter come out free of perspective and roundness."""
    axis = solved_axis(Helix(slope_x=slope_x, foot_x_mm=7.0), place)

    assert axis.slope == pytest.approx(slope_x, abs=SLOPE)
    assert axis.foot_x_mm == pytest.approx(7.0, abs=FOOT_MM)
    assert 2 * float(np.median(axis.radii_mm)) == pytest.approx(31.2, abs=DIAMETER_MM)
    assert 2 * axis.knot_radii_mm == pytest.approx(31.2, abs=DIAMETER_MM)


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("azimuth_rad", [0.0, 1.3, 4.4])
def test_hand_and_place_of_the_tip_do_not_matter(hand: int, azimuth_rad: float) -> None:
    """A spring may be wound either way and turned anyhow."""
    axis = solved_axis(Helix(hand=hand, azimuth_rad=azimuth_rad, slope_x=0.02), NEAR)

    assert axis.slope == pytest.approx(0.02, abs=SLOPE)
    assert 2 * float(np.median(axis.radii_mm)) == pytest.approx(31.2, abs=DIAMETER_MM)


def test_depth_of_the_foot_scales_the_diameter() -> None:
    """A spring believed 8 mm too near by a lens 800 mm away seems 1 % smaller."""
    axis = solved_axis(Helix(foot_y_mm=8.0), LEVEL)
    seen = look(make_outline(Helix(foot_y_mm=8.0), LEVEL), make_camera(LEVEL))
    nearer = solve_axis(Stance(camera=make_camera(LEVEL)), seen.left, seen.right)

    ratio = float(np.median(nearer.radii_mm) / np.median(axis.radii_mm))
    assert ratio == pytest.approx(800.0 / 808.0, abs=2e-4)


def test_lean_in_depth_is_read_as_side_lean_off_the_lens_axis() -> None:
    """Off the lens axis a lean in depth shows as a side lean of (x - x0) / Z times it.

    The measurement's geometry: a top that leans away is seen towards the middle.
    """
    helix = Helix(foot_x_mm=0.0, slope_y=0.03)

    believed_upright = solved_axis(helix, ASIDE, depth_slope=0.0)
    known = solved_axis(helix, ASIDE)

    assert known.slope == pytest.approx(0.0, abs=SLOPE)
    assert believed_upright.slope == pytest.approx(0.03 * 150 / 800, rel=0.05)


@pytest.mark.parametrize("place", [LEVEL, FAR, NEAR])
@pytest.mark.parametrize("top_mm", [26.0, 36.0])
def test_tapered_spring_keeps_lean_and_both_diameters(
    place: Place, top_mm: float
) -> None:
    """A conical spring leans by its end coils' centres, never by one flank.

    A caliper laid across an end reads the largest diameter within one wire of it
    (common practice).
    """
    helix = Helix(top_outside_mm=top_mm, slope_x=0.02)
    stance = Stance(camera=make_camera(place))

    solid = solve_solid(stance, look_at(helix, place), 48.0)

    assert solid.tapered
    assert solid.axis.slope == pytest.approx(0.02, abs=2 * SLOPE)
    last = np.linspace(0.0, helix.wire_mm, 41)
    below, above = (
        2 * float(helix.radius_at(each).max()) for each in (last, 48.0 - last)
    )
    assert solid.bottom_mm == pytest.approx(below, abs=TAPER_END_MM)
    assert solid.upper_mm == pytest.approx(above, abs=TAPER_END_MM)
    assert solid.outside_mm == pytest.approx(max(31.2, top_mm), abs=TAPER_END_MM)


def test_straight_spring_is_not_called_tapered() -> None:
    """Noise of the radius is no taper."""
    stance = Stance(camera=make_camera(LEVEL))

    solid = solve_solid(stance, look_at(Helix(), LEVEL), 48.0)

    assert not solid.tapered


def test_one_coil_that_strays_hardly_moves_the_axis() -> None:
    """A coil read 1 mm too far out (a tag, a thumb) is weighted down."""
    seen = look_at(Helix(slope_x=0.02), LEVEL)
    seen.right.points_px[3, 0] += 7.0

    axis = solve_axis(Stance(camera=make_camera(LEVEL)), seen.left, seen.right)

    assert axis.slope == pytest.approx(0.02, abs=0.002)
    assert 2 * float(np.median(axis.radii_mm)) == pytest.approx(31.2, abs=0.05)


def test_few_coils_say_how_little_they_know() -> None:
    """Three coils a flank show the radius at the top, the lean with a larger u."""
    stance = Stance(camera=make_camera(LEVEL))
    seen = look_at(Helix(slope_x=0.02), LEVEL)
    whole = solve_axis(stance, seen.left, seen.right)

    few = solve_axis(stance, some_coils(seen.left, TOPS), some_coils(seen.right, TOPS))

    assert few.u_slope > 3 * whole.u_slope
    assert few.u_slope > 0.002
    assert abs(few.slope - 0.02) < 2 * few.u_slope
    assert few.radius_at(48.0) == pytest.approx(15.6, abs=2 * few.u_knots_mm[-1])


def test_a_taper_seen_at_its_top_leaves_the_foot_open() -> None:
    """The widest part of a taper is claimed where it was seen, never guessed."""
    stance = Stance(camera=make_camera(LEVEL))
    seen = look_at(Helix(top_outside_mm=24.0), LEVEL)
    tops = replace(
        seen, left=some_coils(seen.left, TOPS), right=some_coils(seen.right, TOPS)
    )

    whole, part = (values_of(solve_solid(stance, each, 48.0)) for each in (seen, tops))

    hidden = {Characteristic.OUTSIDE_DIAMETER, Characteristic.BOTTOM_DIAMETER}
    assert hidden <= set(whole)
    assert set(whole) - set(part) == hidden


def test_too_few_coils_are_refused_with_their_number() -> None:
    """Two coils on one flank fix no axis."""
    outline = make_outline(Helix(), LEVEL)
    seen = look(replace(outline, right=outline.foot), make_camera(LEVEL))

    with pytest.raises(ValueError, match=r"\d coils seen left, 0 right"):
        solve_axis(Stance(camera=make_camera(LEVEL)), seen.left, seen.right)


@pytest.mark.parametrize("turns", [5.25, 6.0, 7.25, 9.5])
@pytest.mark.parametrize("hand", [1, -1])
def test_total_coils_within_their_uncertainty(turns: float, hand: int) -> None:
    """Half turns and the heights of the ends give the total to a tenth of a coil."""
    helix = Helix(turns=turns, hand=hand, wire_mm=3.2)
    stance = Stance(camera=make_camera(LEVEL))

    solid = solve_solid(stance, look_at(helix, LEVEL), 48.0)

    assert solid.total_coils == pytest.approx(turns, abs=TURNS)
