"""Swept wire of known length, pitch, lean; ground solid of known height."""

import math
from dataclasses import replace

import numpy as np
import pytest

from scripts.rendering.records import Floats, Integers, PlacedSpring, SpringShape
from scripts.rendering.solid import (
    STEPS_PER_TURN,
    STEPS_ROUND_WIRE,
    centre_line,
    mean_radius_of,
    place_spring,
    rise_of,
    rotate_about_z,
    shift_at,
    sweep_wire,
    wire_path,
)

SHAPE = SpringShape(
    free_height_mm=47.5,
    wire_mm=4.2,
    mean_bottom_mm=26.0,
    mean_top_mm=26.0,
    coils=7.2,
    azimuth_deg=33.0,
    lean_x_mm=0.8,
    lean_y_mm=-0.3,
)


def volume_of(vertices: Floats, faces: Integers) -> float:
    """Return the signed volume of a closed mesh (divergence theorem)."""
    one, two, three = (vertices[faces[:, k]] for k in range(3))
    return float(np.sum(one * np.cross(two, three)) / 6.0)


def test_wire_rises_from_tip_to_tip() -> None:
    """Both tips keep a quarter of the wire after grinding: rise is L0 + d/2."""
    rise = rise_of(SHAPE, np.linspace(0.0, 7.2, 2000))

    assert rise[0] == pytest.approx(-4.2 / 4)
    assert rise[-1] == pytest.approx(47.5 + 4.2 / 4)
    assert (np.diff(rise) > 0.0).all()


def test_end_coils_are_closed() -> None:
    """Over the first and the last turn the pitch is the stated multiple of d."""
    turns = np.linspace(0.0, 7.2, 7201)
    rise = rise_of(SHAPE, turns)

    assert rise[1000] - rise[0] == pytest.approx(1.03 * 4.2, abs=1e-6)
    assert rise[-1] - rise[-1001] == pytest.approx(1.03 * 4.2, abs=1e-6)


def test_ground_flat_takes_about_three_quarters_of_a_turn() -> None:
    """The wire's underside leaves the plate after 0.75 turn / 1.03."""
    turns = np.linspace(0.0, 7.2, 7201)
    underside = rise_of(SHAPE, turns) - 4.2 / 2

    flat_turns = turns[underside < 0.0].max()

    assert flat_turns == pytest.approx(0.75 / 1.03, abs=0.002)


@pytest.mark.parametrize(("hand", "sense"), [("right", 1.0), ("left", -1.0)])
def test_right_hand_helix_climbs_counter_clockwise(hand: str, sense: float) -> None:
    """Seen from above a right-hand wire turns counter-clockwise as it rises."""
    path = centre_line(replace(SHAPE, hand=hand))  # type: ignore[arg-type]

    turned = np.cross(path[10], path[20])

    assert np.sign(turned[2]) == sense


def test_taper_keeps_both_end_coils() -> None:
    """A beehive has its bottom radius over the lower coils, its top one at the end."""
    shape = replace(SHAPE, taper="beehive", mean_top_mm=20.0)
    radius = mean_radius_of(shape, np.array([0.0, 1.0, 3.0, 6.2, 7.2]))

    np.testing.assert_allclose(radius, [13.0, 13.0, 13.0, 10.0, 10.0], atol=1e-12)


def test_lean_is_the_offset_of_the_end_coils_centres() -> None:
    """Between d/2 and L0 - d/2 the axis shifts by exactly the stated lean."""
    low, high = shift_at(SHAPE, np.array([2.1, 45.4]))

    np.testing.assert_allclose(high - low, [0.8, -0.3], rtol=0.0, atol=1e-12)


def test_bow_leaves_the_ends_alone() -> None:
    """A bow shows at mid height and vanishes at plate and top."""
    shape = replace(SHAPE, lean_x_mm=0.0, lean_y_mm=0.0, bow_x_mm=0.2)

    shift = shift_at(shape, np.array([0.0, 23.75, 47.5]))

    np.testing.assert_allclose(shift[:, 0], [0.0, 0.2, 0.0], rtol=0.0, atol=1e-12)


@pytest.mark.reference
def test_swept_wire_has_the_volume_of_pappus() -> None:
    """Volume = section times centre line's length (Pappus' second theorem)."""
    path = centre_line(SHAPE)
    vertices, faces = sweep_wire(path, np.zeros((len(path), 2)), 4.2)
    length_mm = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()

    volume = volume_of(vertices, faces)

    assert volume == pytest.approx(math.pi * 2.1**2 * length_mm, rel=2e-3)


def test_quarter_turn_is_counter_clockwise_from_above() -> None:
    """What points right points away from the camera afterwards."""
    turned = rotate_about_z(np.array([[1.0, 0.0, 5.0]]), 90.0)

    np.testing.assert_allclose(turned, [[0.0, 1.0, 5.0]], rtol=0.0, atol=1e-12)


def test_ground_spring_stands_on_the_plate_at_its_free_height() -> None:
    """The trimmed solid reaches from 0 to L0 and its truth says so."""
    pytest.importorskip("manifold3d")

    mesh, truth = place_spring(PlacedSpring(shape=SHAPE, x_mm=40.0, y_mm=0.3))

    assert mesh.vertices[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert mesh.vertices[:, 2].max() == pytest.approx(47.5, abs=1e-9)
    assert truth.free_height_mm == pytest.approx(47.5, abs=1e-9)
    assert truth.outside_middle_mm == pytest.approx(30.2, abs=0.01)
    assert truth.top_rim_radius_mm == pytest.approx(15.1, abs=0.01)


def test_turned_spring_turns_its_lean_with_it() -> None:
    """After a quarter turn the truth's lean (x, y) is (-y, x) of before."""
    pytest.importorskip("manifold3d")

    placed = PlacedSpring(shape=SHAPE, x_mm=0.0, y_mm=0.0, turn_deg=90.0)
    _, truth = place_spring(placed)

    assert truth.lean_x_mm == pytest.approx(0.3)
    assert truth.lean_y_mm == pytest.approx(0.8)


def test_swept_end_coils_are_offset_by_the_lean() -> None:
    """One turn's middle lies on the axis: two end turns' middles give the lean."""
    vertices, _ = sweep_wire(*wire_path(SHAPE), SHAPE.wire_mm)
    rings = vertices[:-2].reshape(-1, STEPS_ROUND_WIRE, 3).mean(axis=1)

    rise = rings[-STEPS_PER_TURN:].mean(axis=0) - rings[:STEPS_PER_TURN].mean(axis=0)

    slope = rise[:2] / rise[2]
    expected = np.array([0.8, -0.3]) / (47.5 - 4.2)
    np.testing.assert_allclose(slope, expected, rtol=0.0, atol=2e-4)


def test_burr_counts_as_height() -> None:
    """A height gauge reads the burr too, and so does the truth."""
    pytest.importorskip("manifold3d")

    placed = PlacedSpring(shape=replace(SHAPE, burr_mm=0.15), x_mm=0.0, y_mm=0.0)
    _, truth = place_spring(placed)

    assert truth.free_height_mm == pytest.approx(47.65, abs=0.001)
    assert truth.top_rim_radius_mm == pytest.approx(15.1, abs=0.01)


def test_unparallel_end_keeps_its_highest_point_at_the_free_height() -> None:
    """A top end ground askew by e2 reaches L0 within the grinding's own error."""
    pytest.importorskip("manifold3d")

    shape = replace(SHAPE, unparallel_mm=0.1, unparallel_azimuth_deg=200.0)
    _, truth = place_spring(PlacedSpring(shape=shape, x_mm=0.0, y_mm=0.0))

    # The flat spans three quarters of the rim: it may miss the highest quarter.
    assert 47.5 - 0.1 / 2 < truth.free_height_mm < 47.5 + 0.005
