"""Whether a target's own light is clipped, and what its edges then say of springs'."""

import numpy as np
import pytest

from calib.records import EdgePoints, Side, Sighting, TargetKind
from calib.target import glares

COUNT = 12
WHITE = 0.995


def sighting(kind: TargetKind, inside: float, outside: float) -> Sighting:
    points = EdgePoints(
        points_px=np.zeros((COUNT, 2)),
        normals=np.tile([0.0, 1.0], (COUNT, 1)),
        blur_px=np.ones(COUNT),
        inside=np.full(COUNT, inside),
        outside=np.full(COUNT, outside),
        u_px=np.full(COUNT, 0.02),
        spread_px2=np.ones(COUNT),
    )
    return Sighting(
        kind=kind,
        direction=1,
        sides=(Side(name="outer", points=points),),
        corners_px=np.zeros((4, 2)),
        blur_px=1.0,
    )


@pytest.mark.parametrize(
    ("kind", "inside", "outside", "own"),
    [
        (TargetKind.SQUARE_CARD, 0.05, WHITE, True),  # its paper
        (TargetKind.SQUARE_CARD, 0.05, 0.8, False),
        (TargetKind.TRY_SQUARE, WHITE, 0.4, True),  # its face
        (
            TargetKind.TRY_SQUARE,
            0.1,
            WHITE,
            False,
        ),  # also behind springs
        (TargetKind.TRY_SQUARE, 0.1, 0.8, False),
    ],
)
def test_own_light_is_told_from_the_backdrops(
    kind: TargetKind, inside: float, outside: float, own: bool
) -> None:
    """A card brings its paper along; behind a try square is what is behind springs."""
    assert glares(sighting(kind, inside, outside)) is own
