"""Scales, ticks and label places of the sheet's figures."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.output.sheet.figure import Scale, scale_over, spread, tick_step, ticks


def test_scale_maps_ends_to_ends() -> None:
    """Low and high land on the ends, what is outside on the nearer end."""
    scale = Scale(low=40.0, high=50.0, start=10.0, end=110.0)

    assert scale.at(40.0) == 10.0
    assert scale.at(47.5) == pytest.approx(85.0)
    assert scale.at(99.0) == 110.0


def test_scale_over_equal_values_has_room() -> None:
    """One value alone still gets a scale that it stands in the middle of."""
    scale = scale_over([48.0], 0.0, 100.0)

    assert scale.at(48.0) == pytest.approx(50.0)


def test_ticks_are_round_and_inside() -> None:
    """Between 46.4 and 48.4 at most five ticks: 46.5 by halves to 48.0."""
    scale = Scale(low=46.4, high=48.4, start=0.0, end=1.0)

    assert [text for _, text in ticks(scale, 5)] == ["46.5", "47.0", "47.5", "48.0"]


@given(st.floats(1e-4, 1e4), st.integers(2, 12))
def test_tick_step_never_gives_more_than_asked(span: float, most: int) -> None:
    """The step is 1, 2 or 5 times a power of ten, and wide enough."""
    step = tick_step(span, most)

    assert span / step <= most * (1 + 1e-6)
    assert f"{step:.6e}"[:8] in {"1.000000", "2.000000", "5.000000"}


@given(st.lists(st.floats(0.0, 50.0), min_size=1, max_size=20))
def test_spread_keeps_order_and_distance(places: list[float]) -> None:
    """Labels keep their order, stand apart, and stay centred as a whole."""
    wanted = sorted(places)

    placed = spread(wanted, 4.0)

    steps = [b - a for a, b in pairwise(placed)]
    assert all(step >= 4.0 - 1e-9 for step in steps)
    assert sum(placed) == pytest.approx(sum(wanted), abs=1e-6)


def test_spread_leaves_free_places_alone() -> None:
    """Places that do not crowd stay where they are."""
    assert spread([1.0, 10.0], 4.0) == (1.0, 10.0)
