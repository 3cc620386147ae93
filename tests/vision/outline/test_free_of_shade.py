"""Edges of a shaded bar in a close look: which are moved, and in which grey."""

import numpy as np
from scipy.special import ndtr

from calib.edge import EdgeSettings, locate_edges
from calib.records import EdgePoints, Grey
from vision.outline.close import Close
from vision.outline.shade import free_of_shade

EDGE_PX, BLUR_PX = 60.3, 0.9
STEP_OFF_PX, OFF_PX = 0.3, 0.05
RIGHT = np.array([1.0, 0.0])


def draw(shade: float, noise: float = 0.003) -> Grey:
    """Draw a bar to the left of an upright edge, brighter towards it by ``shade``."""
    x = np.arange(120.0)
    fine = np.arange(-30.0, 150.0, 0.1) + 0.05
    light = np.where(
        fine > EDGE_PX,
        0.8,
        0.2 + shade * np.clip(1 - (EDGE_PX - fine) / 8, 0, 1),
    )
    bells = ndtr((x[:, None] - fine + 0.05) / BLUR_PX)
    bells -= ndtr((x[:, None] - fine - 0.05) / BLUR_PX)
    row = (bells * light).sum(axis=1) / bells.sum(axis=1)
    grain = np.random.default_rng(3).standard_normal((140, 120))
    return (row + noise * grain).astype(np.float32)


def close_of(*greys: Grey) -> Close:
    return Close(
        greys=greys,
        rgb=np.dstack([greys[0]] * 3),
        corner_px=np.zeros(2),
        px_per_mm=8.0,
        colour=(0.2, 0.2, 0.2),
    )


def edges_in(grey: Grey) -> EdgePoints:
    points = np.column_stack([np.full(80, 60.0), np.arange(30.0, 110.0)])
    settings = EdgeSettings(rows=3, most_residual=0.35)
    return locate_edges(grey, points, np.tile(RIGHT, (80, 1)), 3.0, settings)


def off_px(edges: EdgePoints) -> float:
    return float(np.median(edges.points_px[:, 0])) - EDGE_PX


def test_shaded_edges_are_moved_to_where_the_wire_ends() -> None:
    """A step settles inside the wire that mirrors the backdrop, the rest on its edge.

    Parts stay what they are: none has edges of another.
    """
    grey = draw(0.2)
    found = edges_in(grey)
    upper, lower = found.chosen(np.arange(30)), found.chosen(np.arange(30, 80))

    first, second = free_of_shade(close_of(grey), (upper, lower))

    assert off_px(found) < -STEP_OFF_PX
    for before, after in ((upper, first), (lower, second)):
        assert abs(off_px(after)) < OFF_PX
        assert (after.points_px[:, 1] == before.points_px[:, 1]).all()


def test_the_surer_grey_places_an_edge() -> None:
    """A grey that shows next to nothing of the edge does not spoil it."""
    clear, empty = draw(0.2), np.full((140, 120), 0.5, np.float32)
    grain = np.random.default_rng(4).standard_normal(empty.shape)
    empty = (empty + 0.003 * grain).astype(np.float32)

    (found,) = free_of_shade(close_of(empty, clear), (edges_in(clear),))

    assert abs(off_px(found)) < OFF_PX


def test_edges_without_a_sound_step_stay_where_they_were() -> None:
    """What noise hides is left as it was located, and nothing is lost."""
    flat = np.full((140, 120), 0.5, np.float32)
    grain = np.random.default_rng(5).standard_normal(flat.shape)
    edges = edges_in(draw(0.2))

    (found,) = free_of_shade(
        close_of((flat + 0.05 * grain).astype(np.float32)), (edges,)
    )

    assert len(found.u_px) == len(edges.u_px)
    assert np.median(np.abs(found.points_px - edges.points_px)) == 0.0


def test_nothing_is_made_of_nothing() -> None:
    """A spring without edges keeps none."""
    none = edges_in(draw(0.2)).chosen(np.zeros(0, dtype=np.int64))

    assert free_of_shade(close_of(draw(0.2)), (none, none)) == (none, none)
