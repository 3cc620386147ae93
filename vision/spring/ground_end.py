"""The ends that a ground coil spring can have, as points in space.

A ground end is a flat about three quarters of a turn long with a thin tip; before the
flat begins the wire lies lower.
"""

import numpy as np

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


def rim_points(shape: Shape, radius_mm: float, wire_mm: float) -> Floats:
    """Points (2, n, 3) of the end's edges, outer and inner, about its centre.

    z = 0 is the ground plane. Seen over a gap, the nearest (lens below the end) or
    farthest edge of the flat makes the outline, so both edges are needed.
    """
    hand, tip = shape
    turn = np.linspace(0.0, 1.0, AROUND, endpoint=False)
    half = wire_mm / 2
    mean = radius_mm - half
    cut = wire_mm * (turn - TIP_THICKNESS) if hand else np.zeros(AROUND)
    flat = turn < FLAT_TURN if hand else np.ones(AROUND, dtype=bool)
    width = np.sqrt(np.maximum(half**2 - np.clip(cut, -half, half) ** 2, 0.0))
    drop = np.where(flat, 0.0, wire_mm * (turn - FLAT_TURN))
    angle = tip + (hand or 1) * 2 * np.pi * turn
    course = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.stack(
        [
            np.column_stack([(mean + sign * width)[:, None] * course, -drop])
            for sign in (1, -1)
        ]
    )
