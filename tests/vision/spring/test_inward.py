"""What the light beside a flank says of where its edges lie."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from tests.vision.spring.helix import edge_points
from vision.spring.inward import UNMOVED, Inward, inward_of


def inward(inside: float, outside: float, *, blown: float = 0.0) -> Inward:
    edges = edge_points(np.zeros((9, 2)), np.tile([1.0, 0.0], (9, 1)))
    lit = replace(edges, inside=np.full(9, inside), outside=np.full(9, outside))
    return inward_of(lit, blown)


def test_black_wire_before_grey_lies_where_it_is_seen() -> None:
    """It mirrors nothing, and a tone curve bends little below the middle."""
    assert inward(0.0, 0.4).px == pytest.approx(0.0)


def test_the_likelier_the_farther_inside_and_the_less_sure() -> None:
    """Wire half as bright as the backdrop has lost more of its edge than dark wire."""
    dark, bright = inward(0.05, 0.5), inward(0.25, 0.5)

    assert bright.px > dark.px + 0.1
    assert bright.u_px > 2 * dark.u_px
    assert bright.likeness == pytest.approx(0.5)


def test_likeness_knows_no_side() -> None:
    """Bright wire before dark mirrors as much of it as dark wire does of bright."""
    assert inward(0.3, 0.1).likeness == pytest.approx(inward(0.1, 0.3).likeness)


@pytest.mark.parametrize("brighter", [1.25, 2.0, 2.9])
def test_clipped_light_is_allowed_for(brighter: float) -> None:
    """A blurred step clipped at 1 crosses one half where its light does."""
    found = inward(0.02, 1.0, blown=1.0)

    farther_px = -float(ndtri(0.5 / brighter))
    assert abs(found.px - farther_px) < 2 * found.u_px


def test_without_edges_nothing_is_said() -> None:
    """A flank that is not seen is taken as it comes."""
    none = edge_points(np.zeros((0, 2)), np.zeros((0, 2)))

    assert inward_of(none, 1.0) == UNMOVED
