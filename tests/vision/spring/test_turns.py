"""Total coils from the heights of widest points, and whether they are of one wire."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import Floats
from tests.vision.spring.helix import Helix, centre_line
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import LEVEL, make_camera
from vision.spring.axis import Axis, solve_axis
from vision.spring.measure import MOST_OUT_OF_TURN
from vision.spring.rays import Stance
from vision.spring.solid import look
from vision.spring.turns import count_coils, out_of_turn

TURNS = 0.02  # of exact heights; what is left is the shape of the opening coil
SEEN_ABOVE = 0.0  # a ground wire shows its widest place where its middle is above this
HELIX = Helix(turns=7.3, wire_mm=3.2, height_mm=48.0)


def some_axis() -> Axis:
    seen = look(make_outline(HELIX, LEVEL), make_camera(LEVEL))
    return solve_axis(Stance(camera=make_camera(LEVEL)), seen.left, seen.right)


def widest(helix: Helix) -> tuple[Floats, Floats]:
    """Heights and sides of every half turn's widest place, exactly."""
    turned = helix.azimuth_rad / (2 * np.pi)
    first = np.ceil(2 * turned) / 2 - turned
    turns = np.arange(first, helix.turns, 0.5)
    line = centre_line(helix, turns)
    room = np.minimum(line[:, 2], helix.height_mm - line[:, 2])
    seen = room > SEEN_ABOVE
    return line[seen, 2], np.sign(line[seen, 0])


def count(heights: Floats, sides: Floats, helix: Helix = HELIX) -> tuple[float, float]:
    axis = replace(some_axis(), heights_mm=heights, sides=sides)
    return count_coils(axis, helix.wire_mm, helix.height_mm)


def astray(axis: Axis, helix: Helix = HELIX) -> float:
    return out_of_turn(axis, helix.wire_mm, helix.height_mm)


@pytest.mark.parametrize("turns", [5.0, 6.37, 8.9])
@pytest.mark.parametrize("azimuth_rad", [0.0, 1.0, 2.5])
def test_exact_heights_give_the_turns(turns: float, azimuth_rad: float) -> None:
    """Heights over the ends tell how far the tips are, wherever these lie."""
    helix = replace(HELIX, turns=turns, azimuth_rad=azimuth_rad)

    found, u = count(*widest(helix), helix)

    assert found == pytest.approx(turns, abs=TURNS)
    assert u < 0.2


@pytest.mark.parametrize("unseen", [[0], [1], [6], [-1], [5, 6, 7], [0, 1, -1]])
def test_coils_not_seen_are_counted_within_u(unseen: list[int]) -> None:
    """What is missing at the ends or between makes U larger, the count hardly wrong."""
    heights, sides = widest(HELIX)

    found, u = count(np.delete(heights, unseen), np.delete(sides, unseen))

    assert abs(found - HELIX.turns) < min(2 * u, 0.35)
    assert u > count(heights, sides)[1]


@pytest.mark.parametrize("beside", [0.05, 0.5, -0.4])
def test_strays_are_left_out(beside: float) -> None:
    """An edge beside a coil, on either flank, is no half turn of its own."""
    heights, sides = widest(HELIX)

    for side in (-1.0, 1.0):
        more = np.append(heights, heights[7] + beside), np.append(sides, side)
        found, _ = count(*more)

        assert found == pytest.approx(HELIX.turns, abs=TURNS)


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("unseen", [[], [5], [4, 5, 9]])
def test_coils_of_one_wire_take_turns(unseen: list[int], hand: int) -> None:
    """Widest points lie half a turn apart: geometry of the helix."""
    heights, sides = widest(replace(HELIX, hand=hand))
    axis = replace(
        some_axis(),
        heights_mm=np.delete(heights, unseen),
        sides=np.delete(sides, unseen),
    )

    assert astray(axis) < 0.02


@pytest.mark.parametrize("azimuth_rad", np.linspace(0.0, 3.0, 7))
def test_few_coils_of_one_wire_take_turns(azimuth_rad: float) -> None:
    """Where most coils close, half turns differ in height and are half turns still."""
    helix = replace(HELIX, turns=4.5, wire_mm=4.4, azimuth_rad=float(azimuth_rad))
    heights, sides = widest(helix)
    axis = replace(some_axis(), heights_mm=heights, sides=sides)

    assert astray(axis, helix) < 0.04


@pytest.mark.parametrize("turned_rad", [2.0, -1.2, 2.9])
def test_flanks_of_two_springs_do_not_take_turns(turned_rad: float) -> None:
    """The right flank is that of a spring turned by some quarter of a turn."""
    heights, sides = widest(HELIX)
    others, their_sides = widest(replace(HELIX, azimuth_rad=turned_rad))
    left, right = heights[sides < 0], others[their_sides > 0]
    both = (
        np.concatenate([left, right]),
        np.repeat([-1.0, 1.0], [len(left), len(right)]),
    )
    axis = replace(some_axis(), heights_mm=both[0], sides=both[1])

    assert astray(axis) > MOST_OUT_OF_TURN
