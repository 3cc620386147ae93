"""Coils on a flank: circles, the wire's course, widest points against exact helices."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import Floats
from tests.vision.spring.helix import Helix, between_ends, edge_points, grazing_points
from tests.vision.spring.outlines import INWARD, flank_of, frame_of, make_outline
from tests.vision.spring.places import (
    ABOVE,
    BELOW,
    FAR,
    LEVEL,
    NEAR,
    Place,
    make_camera,
    seen,
)
from vision.spring.coil_ends import fit_ends, padded
from vision.spring.flank import rise_per_radian
from vision.spring.solid import look

WIDEST_PX = 0.03  # 0.004 mm at 7 px per mm; the flank's own floor of doubt
WIRE_SHARE = 0.03  # U of a wire diameter is 0.12 mm and more, of 4 mm


def arc(radius_px: float, sines: tuple[float, float], count: int = 40) -> Floats:
    """Points of a circle about (30, 50), seen from lowest to highest sine."""
    angle = np.linspace(np.arcsin(sines[0]), np.arcsin(sines[1]), count)
    return np.column_stack(
        [30 + radius_px * np.cos(angle), 50 + radius_px * np.sin(angle)]
    )


@pytest.mark.parametrize("sines", [(-0.8, 0.8), (-0.3, 0.9), (-0.9, 0.2)])
def test_circle_through_exact_points_is_exact(sines: tuple[float, float]) -> None:
    """A part of a circle gives back its centre and radius."""
    circle = fit_ends(padded([arc(14.0, sines)], [0.0]))

    assert circle.radius_px[0] == pytest.approx(14.0, abs=1e-6)
    assert circle.out_px[0] == pytest.approx(30.0, abs=1e-6)
    assert circle.up_px[0] == pytest.approx(50.0, abs=1e-6)


def test_blur_makes_round_ends_no_smaller() -> None:
    """Points of an arc that blur drew inward by spread / (2 R) give its true radius."""
    drawn = arc(12.0 - 1.5 / 24.0, (-0.7, 0.8))

    circle = fit_ends(padded([drawn], [1.5]))

    assert circle.radius_px[0] == pytest.approx(12.0, abs=0.001)


def test_circle_leaves_a_burr_aside() -> None:
    """Three points of forty that stand out by 2 px move the widest point by little."""
    points = arc(14.0, (-0.7, 0.7))
    points[20:23, 0] += 2.0

    circle = fit_ends(padded([points], [0.0]))

    assert circle.out_px[0] + circle.radius_px[0] == pytest.approx(44.0, abs=0.12)


def test_rise_follows_the_neighbours() -> None:
    """Coils 44 px apart rise 44 / 2 pi px per radian; one coil alone tells nothing."""
    heights = np.array([10.0, 54.0, 98.0, 142.0])

    assert rise_per_radian(heights) == pytest.approx(44.0 / (2 * np.pi))
    assert rise_per_radian(heights[:1]) == pytest.approx(0.0)


def test_a_missed_coil_is_no_steeper_pitch() -> None:
    """Where one coil was not seen, the rise stays near that of the others."""
    heights = np.array([10.0, 54.0, 98.0, 186.0, 230.0, 274.0])

    rises = rise_per_radian(heights)

    assert rises.max() < 1.2 * 44.0 / (2 * np.pi)


def exact_widest(helix: Helix, place: Place, side: int) -> list[float]:
    """How far out (px) the exact outline of each coil reaches, foot to top."""
    camera = make_camera(place)
    between = between_ends(helix, grazing_points(helix, camera))
    flank = flank_of(helix, camera, between, side)
    frame = frame_of(helix, camera)
    at = (seen(camera, flank.points_mm) - frame.foot_px) @ frame.axes.T
    order = np.argsort(at[:, 1])
    out, up = side * at[order, 0], at[order, 1]
    coils = np.split(out, np.flatnonzero(np.diff(up) > 5.0) + 1)
    return [float(each.max()) for each in coils]


@pytest.mark.parametrize("place", [LEVEL, ABOVE, BELOW, NEAR, FAR])
@pytest.mark.parametrize("side", [-1, 1])
def test_widest_points_are_those_of_the_exact_outline(place: Place, side: int) -> None:
    """Each coil's widest point lies where the exact outline reaches farthest out."""
    helix = Helix(slope_x=0.02)
    outline, frame = make_outline(helix, place), frame_of(helix, make_camera(place))

    seen_ = look(outline, make_camera(place))
    coils = seen_.left if side < 0 else seen_.right

    found = side * ((coils.points_px - frame.foot_px) @ frame.axes[0]) + INWARD.px
    exact = exact_widest(helix, place, side)
    inner = found[1:-1]  # the end coils are cut by the ground planes
    nearest = [min(abs(each - other) for other in exact) for each in inner]
    assert len(inner) >= 4
    assert max(nearest) < WIDEST_PX


@pytest.mark.parametrize("hand", [1, -1])
def test_wire_radius_from_level_view(hand: int) -> None:
    """Seen level with its middle, a coil's circle has the wire's radius."""
    place = Place(position_mm=(0.0, -1600.0, 24.0), focal_px=11200.0)
    outline = make_outline(Helix(hand=hand), place)

    coils = look(outline, make_camera(place)).right

    radius_mm = (np.median(coils.radius_px) + INWARD.px) / 7.0
    assert radius_mm == pytest.approx(2.0, rel=WIRE_SHARE)


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("place", [ABOVE, NEAR])
def test_wire_radius_from_above_and_below(hand: int, place: Place) -> None:
    """A lens above or below changes a flank's course, not the wire's radius."""
    outline = make_outline(Helix(hand=hand), place)

    seen_ = look(outline, make_camera(place))

    px_per_mm = place.focal_px / -place.position_mm[1]
    radius_px = np.median(np.concatenate([seen_.left.radius_px, seen_.right.radius_px]))
    radius_mm = (radius_px + INWARD.px) / px_per_mm
    assert radius_mm == pytest.approx(2.0, rel=WIRE_SHARE)


@pytest.mark.parametrize("hand", [1, -1])
def test_wire_and_coils_from_far_above(hand: int) -> None:
    """Seen 16 degrees from above both flanks show their coils, the wire alike thick."""
    place = Place(position_mm=(0.0, -440.0, 150.0), pitch_deg=14.0, focal_px=3000.0)
    helix = Helix(hand=hand, turns=7.5)

    seen_ = look(make_outline(helix, place), make_camera(place))

    assert min(len(seen_.left.radius_px), len(seen_.right.radius_px)) >= 5
    left, right = np.median(seen_.left.radius_px), np.median(seen_.right.radius_px)
    assert left / right == pytest.approx(1.0, abs=0.06)


def test_flank_in_any_order_gives_the_same_coils() -> None:
    """The order of the edge points does not matter."""
    outline = make_outline(Helix(), LEVEL)
    flank = outline.right
    order = np.random.default_rng(5).permutation(len(flank.u_px))
    mixed = replace(
        flank, points_px=flank.points_px[order], normals=flank.normals[order]
    )

    one = look(outline, make_camera(LEVEL)).right
    other = look(replace(outline, right=mixed), make_camera(LEVEL)).right

    np.testing.assert_allclose(one.points_px, other.points_px, rtol=0, atol=1e-9)


def test_no_points_give_no_coils() -> None:
    """An empty flank shows no coil."""
    none = edge_points(np.zeros((0, 2)), np.zeros((0, 2)))
    outline = replace(make_outline(Helix(), LEVEL), left=none)

    coils = look(outline, make_camera(LEVEL)).left

    assert coils.points_px.shape == (0, 2)
