"""The ends that a coil spring can have, as points in space.

A ground end is a flat about three quarters of a turn long with a thin tip; before the
flat begins the wire lies lower. A broken one is neither closed nor ground: its wire
rises to its tip.
"""

import numpy as np
from numpy.typing import ArrayLike

from calib.records import Floats

AROUND = 120  # points of the rim
TIPS = 24  # places of the tip tried, for each hand
FLAT_TURN = 0.75  # share of a turn that is ground flat (common practice)
TIP_THICKNESS = 0.25  # wire left at the tip, in wire diameters (common practice)

OPEN_TURN = 1.25  # of an end that rises to its tip: what lies lower is not seen
# Lines along an open end's round wire, told by how far from its crest they are turned
# outward: two on each course, there and back.
LINES_RAD = np.radians([[0.0, 50.0], [25.0, 70.0]])

# Hand (0 full rim, +1, -1), azimuth of the tip in rad, and by how many mm a turn the
# wire rises to it; 0 where the end is closed and ground.
Shape = tuple[int, float, float]
WHOLE: Shape = (0, 0.0, 0.0)


def shapes() -> tuple[Shape, ...]:
    """Every ground end that is tried."""
    return (WHOLE, *_wound(0.0))


def open_shapes(rise_mm: float) -> tuple[Shape, ...]:
    """Every end that rises to its tip by so much a turn."""
    return _wound(rise_mm)


def _wound(rise_mm: float) -> tuple[Shape, ...]:
    tips = np.linspace(0.0, 2 * np.pi, TIPS, endpoint=False)
    return tuple((hand, float(tip), rise_mm) for hand in (1, -1) for tip in tips)


def between(shape: Shape) -> tuple[Shape, ...]:
    """Places of the tip between those tried."""
    hand, tip, rise = shape
    step = 2 * np.pi / TIPS
    return tuple(
        (hand, tip + step * part, rise) for part in (-0.67, -0.33, 0.33, 0.67) if hand
    )


def rim_points(shapes: ArrayLike, radius_mm: float, wire_mm: float) -> Floats:
    """Points (..., 2, n, 3) of ends' edges, outer and inner, about their centres.

    ``shapes`` (..., 3) is one `Shape` or many. z = 0 is the ground plane, or the tip of
    an open end. Seen over a gap, the nearest (lens below the end) or farthest edge of
    the flat makes the outline, so both edges are needed; of an open end they
    are lines along the upper outside of its round wire.
    """
    hand, tip, rise = (
        each[..., None]
        for each in np.moveaxis(np.asarray(shapes, dtype=np.float64), -1, 0)
    )
    ground = _ground(hand, wire_mm)
    is_open = (rise > 0)[..., None, :]
    turn, out, down = np.where(is_open[None], _opened(rise, wire_mm), ground)
    angle = tip[..., None, :] + np.where(hand == 0, 1.0, hand)[..., None, :] * (
        2 * np.pi * turn
    )
    radii = radius_mm - wire_mm / 2 + out
    return np.stack([radii * np.cos(angle), radii * np.sin(angle), -down], axis=-1)


def _ground(hand: Floats, wire_mm: float) -> Floats:
    """Give turns from the tip, mm outside the centre line, mm down (3, ..., 2, n)."""
    turn = np.linspace(0.0, 1.0, AROUND, endpoint=False)
    half = wire_mm / 2
    cut = np.where(hand == 0, 0.0, wire_mm * (turn - TIP_THICKNESS))
    flat = (hand == 0) | (turn < FLAT_TURN)
    width = np.sqrt(np.maximum(half**2 - np.clip(cut, -half, half) ** 2, 0.0))
    drop = np.where(flat, 0.0, wire_mm * (turn - FLAT_TURN))
    both = [np.stack(np.broadcast_arrays(turn, side * width, drop)) for side in (1, -1)]
    return np.stack(both, axis=-2)


def _opened(rise_mm: Floats, wire_mm: float) -> Floats:
    """As `_ground`, there along one line of the wire and back along another."""
    run = np.linspace(0.0, 2.0, AROUND, endpoint=False)
    turn = OPEN_TURN * (1.0 - np.abs(1.0 - run))
    half, back = wire_mm / 2, run.astype(int)
    both = [
        np.stack(
            np.broadcast_arrays(
                turn,
                half * np.sin(lines[back]),
                rise_mm * turn + half * (1.0 - np.cos(lines[back])),
            )
        )
        for lines in LINES_RAD
    ]
    return np.stack(both, axis=-2)
