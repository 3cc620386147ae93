"""Round ends of coils looked at squarely: bars with round ends, blurred exactly."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from calib.records import EdgePoints, Floats
from vision.outline.arcs import look_round
from vision.outline.close import Close

RADIUS_PX, PITCH_PX, COILS = 12.0, 30.0, 6
LEFT_PX, RIGHT_PX = 80.0, 200.0  # centres of the ends
BLUR_PX = 1.0
CURVED_PX = BLUR_PX**2 / (2 * RADIUS_PX)  # a round edge is seen so far inside
AXIS_PX = np.array([[140.0, 235.0], [140.0, 23.0]])  # foot, top


def heights() -> Floats:
    """Rows of the bars' middles, from the top."""
    return np.asarray(45.0 + PITCH_PX * np.arange(COILS, dtype=np.float64))


def draw_bars(rows: Floats | None = None) -> Close:
    """Dark bars with round ends, one above the other, before a bright wall."""
    rows = heights() if rows is None else rows
    column, row = np.meshgrid(np.arange(280.0), np.arange(270.0))
    beside = np.maximum(np.maximum(LEFT_PX - column, column - RIGHT_PX), 0.0)
    apart = [np.hypot(beside, row - height) - RADIUS_PX for height in rows]
    light = 0.1 + 0.7 * ndtr(np.min(apart, axis=0) / BLUR_PX)
    return Close(
        greys=(light.astype(np.float32),),
        rgb=np.dstack([light.astype(np.float32)] * 3),
        corner_px=np.zeros(2),
        px_per_mm=6.0,
        colour=(0.1, 0.1, 0.1),
    )


def draw_half_turns() -> Close:
    """Half bars from the left, and between them, half a pitch lower, from the right."""
    left, right = draw_bars(), draw_bars(heights() + PITCH_PX / 2)
    column = np.arange(left.greys[0].shape[1])
    middle = (LEFT_PX + RIGHT_PX) / 2
    light = np.where(column < middle, left.greys[0], right.greys[0])
    return replace(left, greys=(light,))


def rough_flank(
    side: int, seen: tuple[int, ...], rows: Floats | None = None
) -> EdgePoints:
    """Edges 0.8 px too far out, up to 45 degrees round the ends that were seen."""
    rows = heights() if rows is None else rows
    angle = np.radians(np.linspace(-45, 45, 21))
    normals = np.column_stack([side * np.cos(angle), np.sin(angle)])
    centre = LEFT_PX if side < 0 else RIGHT_PX
    points = [
        np.array([centre, rows[coil]]) + (RADIUS_PX + 0.8) * normals for coil in seen
    ]
    zeros = np.zeros(len(seen) * len(angle))
    return EdgePoints(
        points_px=np.concatenate(points),
        normals=np.tile(normals, (len(seen), 1)),
        blur_px=zeros,
        inside=zeros,
        outside=zeros,
        u_px=zeros,
        spread_px2=zeros,
    )


def off_ends(edges: EdgePoints, side: int) -> tuple[Floats, Floats]:
    """How far outside the nearest end (n,), and which end that is."""
    centre = LEFT_PX if side < 0 else RIGHT_PX
    away = np.hypot(
        edges.points_px[:, :1] - centre, edges.points_px[:, 1:] - heights()[None]
    )
    return away.min(axis=1) - RADIUS_PX, away.argmin(axis=1)


@pytest.mark.parametrize("side", [-1, 1])
def test_ends_are_seen_farther_round_and_truly(side: int) -> None:
    """From rough edges to 45 degrees come true ones beyond 60, on both sides."""
    every = tuple(range(COILS))

    found = look_round(
        draw_bars(), AXIS_PX, (rough_flank(-1, every), rough_flank(1, every))
    )

    edges = found[0 if side < 0 else 1]
    off, owner = off_ends(edges, side)
    assert np.abs(off + CURVED_PX).max() < 0.05
    assert (edges.normals[:, 0] * side > 0).all()
    for coil in every:
        tilt = edges.normals[owner == coil, 1]
        assert tilt.min() < -np.sin(np.radians(60))
        assert tilt.max() > np.sin(np.radians(60))


@pytest.mark.parametrize("missed", [0, 2, COILS - 1])
def test_a_missed_end_is_found_where_its_neighbours_leave_room(missed: int) -> None:
    """An end that showed no rough edge, between others or at an end of the row."""
    seen = tuple(coil for coil in range(COILS) if coil != missed)
    flanks = (rough_flank(-1, seen), rough_flank(1, tuple(range(COILS))))

    left, _ = look_round(draw_bars(), AXIS_PX, flanks)

    assert set(off_ends(left, -1)[1]) == set(range(COILS))


@pytest.mark.parametrize("seen", [(2,), ()])
def test_a_flank_is_found_by_the_other_half_a_turn_away(seen: tuple[int, ...]) -> None:
    """Rough edges of one end, or strays beside the flank, and a whole other flank."""
    lower = heights() + PITCH_PX / 2
    rows = tuple(range(COILS))
    right = rough_flank(1, seen, lower) if seen else rough_flank(1, rows, lower)
    if not seen:  # two edges of each end: too few to make an end
        right = right.chosen(np.flatnonzero(np.arange(len(right.u_px)) % 21 // 2 == 5))

    _, found = look_round(draw_half_turns(), AXIS_PX, (rough_flank(-1, rows), right))

    away = np.hypot(
        found.points_px[:, :1] - RIGHT_PX, found.points_px[:, 1:] - lower[None]
    )
    low = AXIS_PX[0, 1]  # no end is looked for below the foot
    assert set(away.argmin(axis=1)) == set(np.flatnonzero(lower < low))
    assert np.abs(away.min(axis=1) - RADIUS_PX + CURVED_PX).max() < 0.1


def test_the_end_of_a_closed_up_coil_is_found() -> None:
    """The last coil lies nearer than a pitch, and does not touch the one above."""
    rows = np.array([45.0, 105.0, 165.0, 207.0])
    flanks = rough_flank(-1, (0, 1, 2), rows), rough_flank(1, (0, 1, 2), rows)

    for edges in look_round(draw_bars(rows), AXIS_PX, flanks):
        lowest = edges.points_px[edges.points_px[:, 1] > rows[2] + RADIUS_PX]
        assert len(lowest) > RADIUS_PX
        assert np.mean(lowest[:, 1]) == pytest.approx(rows[3], abs=0.5)


def test_nothing_is_added_where_there_is_no_coil() -> None:
    """Beyond the last coil and between coils guesses find no end."""
    every = tuple(range(COILS))

    found = look_round(
        draw_bars(), AXIS_PX, (rough_flank(-1, every), rough_flank(1, every))
    )

    for edges, side in zip(found, (-1, 1), strict=True):
        assert np.abs(off_ends(edges, side)[0]).max() < 0.2


def test_flanks_without_edges_stay_without() -> None:
    """Where nothing was seen there is nothing to begin with."""
    none = rough_flank(1, (0,)).chosen(np.zeros(0, dtype=np.int64))

    left, right = look_round(draw_bars(), AXIS_PX, (none, none))

    assert len(left.u_px) == len(right.u_px) == 0
