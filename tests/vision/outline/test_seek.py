"""Looking for edges across a rough outline."""

import numpy as np

from vision.outline.close import Close
from vision.outline.seek import seek_edges


def test_two_greys_of_a_small_picture_are_compared() -> None:
    """Where a reach inward is thinner than the usual blur, edges are found the same."""
    column = np.arange(40, dtype=np.float32)
    grey = np.tile(1.0 / (1.0 + np.exp(-(column - 20.0))), (40, 1)).astype(np.float32)
    close = Close(
        greys=(grey, np.zeros_like(grey)),
        rgb=np.dstack([grey] * 3),
        corner_px=np.zeros(2),
        px_per_mm=1.8,
        colour=(0.0, 0.0, 0.0),
    )
    points = np.column_stack([np.full(20, 20.0), np.arange(10.0, 30.0)])
    left = np.tile([-1.0, 0.0], (20, 1))

    edges, seen = seek_edges(close, points, left, outer_px=4.0, inner_px=1.8)

    assert seen.all()
    np.testing.assert_allclose(edges.points_px[:, 0], 20.0, rtol=0, atol=0.2)
