"""The ground end: its height from the outline, wherever its tip and the lens are."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import EdgePoints, Floats
from tests.vision.spring.helix import Helix, edge_points
from tests.vision.spring.outlines import make_outline, round_end, with_top
from tests.vision.spring.places import ABOVE, BELOW, LEVEL, NEAR, Place, make_camera
from vision.records.measured import Outline
from vision.spring.ground_end import WHOLE, rim_points
from vision.spring.rays import Stance
from vision.spring.solid import Solid, look, moved_solids, solve_solid

ALL_ROUND = np.linspace(0.0, 2 * np.pi, 361)
USUAL_TILT_MM = 0.0125  # an end is never quite parallel: 0.0008 of its radius, 15.6 mm
HEIGHT_MM = 0.02  # beyond that allowance: shapes of the end that look alike
FACING, AWAY = -np.pi / 2, np.pi / 2


def solved(helix: Helix, place: Place, start_mm: float = 47.5) -> Solid:
    stance = Stance(
        camera=make_camera(place),
        depth_mm=helix.foot_y_mm,
        depth_slope=helix.slope_y,
    )
    seen = look(make_outline(helix, place), stance.camera)
    return solve_solid(stance, seen, start_mm)


def solved_top(outline: Outline, place: Place, start_mm: float = 48.0) -> Solid:
    camera = make_camera(place)
    return solve_solid(Stance(camera=camera), look(outline, camera), start_mm)


def azimuth_for(tip_rad: float, helix: Helix) -> float:
    """Where the lower tip must be for the upper one to point somewhere."""
    return float(tip_rad - helix.hand * 2 * np.pi * helix.turns)


@pytest.mark.parametrize(
    ("place", "tip_rad", "hand"),
    [
        (LEVEL, FACING, 1),
        (LEVEL, np.pi, -1),
        (ABOVE, FACING, -1),
        (ABOVE, FACING + 1.2, 1),
        (ABOVE, AWAY, 1),
        (ABOVE, np.pi, -1),
        (NEAR, FACING, 1),
        (NEAR, FACING + 1.2, -1),
        (NEAR, AWAY, -1),
        (NEAR, np.pi, 1),
    ],
)
def test_height_of_a_ground_end(place: Place, tip_rad: float, hand: int) -> None:
    """The gap of the flat may face the lens, point away or lie at either side."""
    plain = Helix(hand=hand)
    helix = replace(plain, azimuth_rad=azimuth_for(tip_rad, plain))

    solid = solved(helix, place)

    error = solid.height_mm - 48.0 - USUAL_TILT_MM
    assert abs(error) < HEIGHT_MM
    assert abs(error) <= 2 * np.hypot(solid.top.u_noise_mm, solid.top.spread_mm)


@pytest.mark.parametrize("place", [LEVEL, ABOVE, BELOW])
@pytest.mark.parametrize("height_mm", [15.0, 60.0, 120.0])
def test_low_and_high_springs(place: Place, height_mm: float) -> None:
    """Springs of 15 to 120 mm are read alike."""
    helix = Helix(
        height_mm=height_mm,
        outside_mm=18.0,
        top_outside_mm=18.0,
        wire_mm=2.0,
        turns=max(4.5, height_mm / 8),
    )

    solid = solved(helix, place, height_mm - 0.5)

    assert solid.height_mm == pytest.approx(height_mm + 0.0072, abs=HEIGHT_MM)


@pytest.mark.parametrize("place", [LEVEL, ABOVE, BELOW])
def test_full_rim(place: Place) -> None:
    """An end that is flat all round is the simplest of all."""
    helix = Helix(slope_x=0.02)
    end = round_end(helix, helix.outside_mm / 2, ALL_ROUND)
    outline = with_top(make_outline(helix, place), helix, place, end)

    solid = solved_top(outline, place, 47.0)

    assert solid.height_mm == pytest.approx(48.0 + USUAL_TILT_MM, abs=0.004)
    assert solid.top.misfit_px < 1.0


@pytest.mark.parametrize("start_mm", [44.0, 50.0])
def test_the_start_does_not_matter(start_mm: float) -> None:
    """A rough height that is millimetres off leads to the same one."""
    exact = solved(Helix(), ABOVE, 48.0).height_mm

    assert solved(Helix(), ABOVE, start_mm).height_mm == pytest.approx(exact, abs=0.005)


@pytest.mark.parametrize("up_px", [4.0, -4.0])
def test_dust_and_dents_do_not_make_the_height(up_px: float) -> None:
    """A tenth of the top's points that stand 0.6 mm out count for next to nothing."""
    outline = make_outline(Helix(), LEVEL)
    points = outline.top.points_px.copy()
    some = slice(len(points) // 3, len(points) // 3 + len(points) // 10)
    points[some, 1] -= up_px
    dusty = replace(outline, top=replace(outline.top, points_px=points))

    solid = solved_top(dusty, LEVEL)

    assert solid.height_mm == pytest.approx(48.0 + USUAL_TILT_MM, abs=0.03)


def test_an_end_out_of_parallel_counts_by_its_highest_point() -> None:
    """A height gauge touches the highest point: 0.1 mm over the middle of this end."""
    helix = Helix()
    tilted = round_end(helix, helix.outside_mm / 2, ALL_ROUND)[0]
    tilted[:, 2] += 0.1 * (tilted[:, 0] / (helix.outside_mm / 2) - 1)
    outline = with_top(make_outline(helix, LEVEL), helix, LEVEL, [tilted])

    solid = solved_top(outline, LEVEL)

    assert solid.height_mm == pytest.approx(48.0, abs=2 * solid.top.spread_mm)
    assert solid.height_mm == pytest.approx(48.0, abs=0.05)


def test_no_edge_over_the_end_is_refused() -> None:
    """A top whose edges all lie elsewhere has no height."""
    outline = make_outline(Helix(), LEVEL)
    nothing: EdgePoints = edge_points(np.zeros((0, 2)), np.zeros((0, 2)))

    with pytest.raises(ValueError, match="top end"):
        solved_top(replace(outline, top=nothing), LEVEL)


def test_flat_of_a_ground_end_is_three_quarters_of_a_turn() -> None:
    """Its outer edge keeps within the outside radius and drops where it is not cut."""
    outer, inner = rim_points((1, 0.3, 0.0), 15.6, 4.0)

    def radii(points: Floats) -> Floats:
        return np.hypot(points[:, 0], points[:, 1])

    flat = outer[:, 2] >= 0
    assert flat.mean() == pytest.approx(0.75, abs=0.01)
    assert radii(outer).max() <= 15.6 + 1e-9
    assert radii(inner).min() >= 11.6 - 1e-9
    assert outer[:, 2].min() == pytest.approx(-1.0, abs=0.05)


SHIFTS = {
    "nearer": lambda s: replace(s, depth_mm=s.depth_mm - 0.5),
    "leaning away": lambda s: replace(s, depth_slope=s.depth_slope + 0.02),
    "edges farther out": lambda s: replace(s, edge_shift_px=s.edge_shift_px + 0.15),
    "wider rim": lambda s: replace(s, rim_shift_mm=s.rim_shift_mm + 0.2),
    "longer lens": lambda s: replace(
        s, camera=replace(s.camera, focal_px=s.camera.focal_px * 1.002)
    ),
    "higher lens": lambda s: replace(
        s,
        camera=replace(
            s.camera, position_mm=s.camera.position_mm + np.array([0.0, 0.0, 2.0])
        ),
    ),
}


UNDER = Place(position_mm=(0.0, -800.0, 10.0))


@pytest.mark.parametrize("place", [ABOVE, UNDER])
@pytest.mark.parametrize("name", SHIFTS)
def test_change_of_height_is_that_of_a_fit_from_scratch(
    name: str, place: Place
) -> None:
    """Following the same edge points tells what solving all over again would tell."""
    helix = Helix()
    stance = Stance(camera=make_camera(place))
    end = round_end(helix, helix.outside_mm / 2, ALL_ROUND)
    outline = with_top(make_outline(helix, place), helix, place, end)
    seen = look(outline, stance.camera)
    base = solve_solid(stance, seen, 48.0, (WHOLE,))
    moved = SHIFTS[name](stance)

    quick = moved_solids((moved,), seen, base)[0].height_mm - base.height_mm
    again = solve_solid(moved, seen, 48.0, (WHOLE,)).height_mm - base.height_mm

    assert quick == pytest.approx(again, rel=0.05, abs=0.003)
