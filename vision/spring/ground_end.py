"""The ends that a ground coil spring can have, as points in space.

A ground end is a flat about three quarters of a turn long with a thin tip; before the
flat begins the wire lies lower.
"""

import numpy as np
from numpy.typing import ArrayLike

from calib.records import Floats

AROUND = 120  # points of the rim
TIPS = 24  # places of the tip tried, for each hand
FLAT_TURN = 0.75  # share of a turn that is ground flat (common practice)
TIP_THICKNESS = 0.25  # wire left at the tip, in wire diameters (common practice)

Shape = tuple[int, float]  # hand (0 full rim, +1, -1) and azimuth of the tip, rad


def shapes() -> tuple[Shape, ...]:
    """Every end that is tried."""
    tips = np.linspace(0.0, 2 * np.pi, TIPS, endpoint=False)
    return ((0, 0.0), *((hand, float(tip)) for hand in (1, -1) for tip in tips))


def between(shape: Shape) -> tuple[Shape, ...]:
    """Places of the tip between those tried."""
    hand, tip = shape
    step = 2 * np.pi / TIPS
    return tuple(
        (hand, tip + step * part) for part in (-0.67, -0.33, 0.33, 0.67) if hand
    )


def rim_points(shapes: ArrayLike, radius_mm: float, wire_mm: float) -> Floats:
    """Points (..., 2, n, 3) of ends' edges, outer and inner, about their centres.

    ``shapes`` (..., 2) is one `Shape` or many. z = 0 is the ground plane. Seen over a
    gap, the nearest (lens below the end) or farthest edge of the flat makes the
    outline, so both edges are needed.
    """
    hand, tip = np.moveaxis(np.asarray(shapes, dtype=np.float64), -1, 0)[..., None]
    turn = np.linspace(0.0, 1.0, AROUND, endpoint=False)
    half = wire_mm / 2
    cut = np.where(hand == 0, 0.0, wire_mm * (turn - TIP_THICKNESS))
    flat = (hand == 0) | (turn < FLAT_TURN)
    width = np.sqrt(np.maximum(half**2 - np.clip(cut, -half, half) ** 2, 0.0))
    drop = np.where(flat, 0.0, wire_mm * (turn - FLAT_TURN))
    angle = tip + np.where(hand == 0, 1.0, hand) * 2 * np.pi * turn
    edges = [radius_mm - half + sign * width for sign in (1, -1)]
    return np.stack(
        [
            np.stack([each * np.cos(angle), each * np.sin(angle), -drop], axis=-1)
            for each in edges
        ],
        axis=-3,
    )
