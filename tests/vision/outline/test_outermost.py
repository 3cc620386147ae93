"""Edges of a bright bar with and without something beside it: which are moved out."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from calib.edge import EdgeSettings, locate_edges
from calib.records import EdgePoints, Floats, Grey
from vision.outline.close import Close
from vision.outline.outermost import move_out

EDGE_PX, REACH_PX, FINE = 60.0, 14.0, 20
BRIGHT, BACKDROP = 0.6, 0.10
RIGHT = np.array([1.0, 0.0])


def draw(beside: dict[tuple[float, float], float], noise: float = 0.001) -> Grey:
    """Draw a bright bar left of an upright edge, and what differs beside it.

    ``beside`` are levels over stretches of px right of the edge.
    """
    x = (np.arange(120 * FINE) + 0.5) / FINE - 0.5
    light = np.where(x < EDGE_PX, BRIGHT, BACKDROP)
    for (near, far), level in beside.items():
        light[(x >= EDGE_PX + near) & (x < EDGE_PX + far)] = level
    row = gaussian_filter1d(light, 0.7 * FINE).reshape(120, FINE).mean(axis=1)
    grain = np.random.default_rng(5).standard_normal((140, 120))
    return np.asarray(row + noise * grain, dtype=np.float32)


def moved_px(grey: Grey) -> Floats:
    """How far each edge of the bar was moved (n,)."""
    points = np.column_stack([np.full(80, EDGE_PX), np.arange(30.0, 110.0)])
    settings = EdgeSettings(rows=3, most_residual=0.35)
    found = locate_edges(grey, points, np.tile(RIGHT, (80, 1)), 3.0, settings)
    close = Close(
        greys=(grey,),
        rgb=np.dstack([grey] * 3),
        corner_px=np.zeros(2),
        px_per_mm=8.0,
        colour=(0.2, 0.2, 0.2),
    )
    out: EdgePoints = move_out(close, found, REACH_PX)
    assert len(out.u_px) >= 70
    return np.asarray((out.points_px - found.points_px) @ RIGHT)


@pytest.mark.parametrize("level", [0.03, 0.16])
@pytest.mark.parametrize("wide", [4.0, 7.0])
def test_a_faint_rim_beside_a_reflection_is_the_wire_s(
    level: float, wide: float
) -> None:
    """A little darker or brighter than the backdrop: the outline is where it ends."""
    moved = moved_px(draw({(0.0, wide): level}))

    assert np.median(moved) == pytest.approx(wide, abs=0.4)
    assert np.mean(np.abs(moved - wide) < 0.6) > 0.9


@pytest.mark.parametrize(
    "beside",
    [
        {},
        {(0.0, 2.5): 0.06},  # a halo of sharpening: opposite and near, 8 %
        {(0.0, 9.0): 0.103},  # a step of one stored value
        {(0.1 * k, 0.1 * k + 0.1): 0.13 - 0.0003 * k for k in range(100)},  # a shade
    ],
    ids=["nothing", "halo", "block", "shade"],
)
def test_a_backdrop_that_is_not_quite_even_moves_no_edge(
    beside: dict[tuple[float, float], float],
) -> None:
    """Halos, blocks of compression and soft shades are no rims."""
    assert np.abs(moved_px(draw(beside))).max() == 0.0


def test_noise_hides_a_rim_as_faint_as_it() -> None:
    """In coarse noise nothing is made of it."""
    assert np.mean(moved_px(draw({(0.0, 5.0): 0.09}, noise=0.02)) > 0) < 0.1
