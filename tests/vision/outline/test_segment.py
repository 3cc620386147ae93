"""Which blobs of what differs from the backdrop are springs, and how far each reaches.

The view is made up: coils as level bars, what disturbs them as plain blocks.
"""

import numpy as np
from numpy.typing import NDArray

from vision.outline.choose import choose_springs
from vision.outline.coils import Coils
from vision.outline.plane import PlaneView
from vision.outline.segment import find_candidates
from vision.records.measured import Reason

PX_PER_MM = 4.0
TOP_MM, HIGH_MM = 100.0, 44.0
EDGE_MM = 3.0  # a foot may be broader than the rest by so much
FAR = 20.0  # sigmas: surely not backdrop

Floats32 = NDArray[np.float32]


def view_of() -> PlaneView:
    shape = (round((TOP_MM + 10.0) * PX_PER_MM), 600)
    return PlaneView(
        lab=np.zeros((*shape, 3), dtype=np.float32),
        seen=np.ones(shape, dtype=np.bool_),
        left_mm=0.0,
        top_mm=TOP_MM,
        px_per_mm=PX_PER_MM,
    )


def block(
    distance: Floats32, x_mm: tuple[float, float], z_mm: tuple[float, float]
) -> None:
    low, high = (round((TOP_MM - z) * PX_PER_MM) for z in z_mm)
    first, last = (round(x * PX_PER_MM) for x in x_mm)
    distance[high:low, first:last] = FAR


def row_of(*places_mm: tuple[float, float]) -> tuple[Floats32, Coils]:
    """Springs with a coil every 6 mm: how far from the backdrop, and their coils."""
    distance = np.zeros(view_of().seen.shape, dtype=np.float32)
    columns = np.zeros(distance.shape[1], dtype=np.bool_)
    for x_mm in places_mm:
        for z in np.arange(0.0, HIGH_MM, 6.0):
            block(distance, x_mm, (z, z + 2.0))
        columns[round(x_mm[0] * PX_PER_MM) : round(x_mm[1] * PX_PER_MM)] = True
    return distance, Coils(columns=columns, top_mm=np.where(columns, HIGH_MM, 0.0))


def test_a_shadow_on_the_plate_joins_no_springs() -> None:
    """Neighbours clear of each other higher up are two, each as wide as its coils."""
    springs = ((20.0, 45.0), (60.0, 85.0))
    distance, coils = row_of(*springs)
    block(distance, (45.0, 60.0), (2.0, 18.0))
    target = np.zeros(distance.shape[1], dtype=np.bool_)

    found = find_candidates(view_of(), distance, target, coils)

    assert [each.fault for each in found] == [None, None]
    extents = [(each.left_mm, each.right_mm) for each in found]
    np.testing.assert_allclose(extents, springs, rtol=0, atol=EDGE_MM + 0.25)


def test_springs_that_meet_touch() -> None:
    """No column between them is clear: both are refused."""
    distance, coils = row_of((20.0, 44.0), (46.0, 70.0))
    for z in np.arange(0.0, HIGH_MM, 12.0):
        block(distance, (43.0, 47.0), (z, z + 2.0))
    target = np.zeros(distance.shape[1], dtype=np.bool_)

    found = find_candidates(view_of(), distance, target, coils)

    assert [each.fault for each in found] == [Reason.TOUCHES] * 2


def test_a_stripe_of_the_backdrop_is_no_part_of_a_spring() -> None:
    """What rises out of the picture behind a spring neither cuts nor heightens it."""
    distance, coils = row_of((20.0, 45.0))
    block(distance, (22.0, 30.0), (0.0, TOP_MM))
    target = np.zeros(distance.shape[1], dtype=np.bool_)

    (spring,) = find_candidates(view_of(), distance, target, coils)

    assert spring.fault is None
    assert abs(spring.top_mm - HIGH_MM) < EDGE_MM


def test_a_seam_of_the_backdrop_ends_at_a_spring_s_top() -> None:
    """What a thin line behind a spring shows above it is no part of its outline."""
    distance, coils = row_of((20.0, 45.0))
    block(distance, (31.0, 33.0), (0.0, TOP_MM))
    target = np.zeros(distance.shape[1], dtype=np.bool_)

    (spring,) = find_candidates(view_of(), distance, target, coils)

    highest_mm = TOP_MM - np.flatnonzero(spring.mask.any(axis=1))[0] / PX_PER_MM
    assert spring.fault is None
    assert highest_mm - HIGH_MM < 2.0


def test_low_turns_beside_a_spring_are_its_shadow() -> None:
    """The coils' shadow on the plate takes turns, too, and is not named a spring."""
    distance, coils = row_of((20.0, 45.0))
    beside = slice(round(45.0 * PX_PER_MM), round(65.0 * PX_PER_MM))
    columns, top_mm = coils.columns.copy(), coils.top_mm.copy()
    columns[beside], top_mm[beside] = True, 14.0
    shadowed = Coils(columns=columns, top_mm=top_mm)
    target = np.zeros(distance.shape[1], dtype=np.bool_)
    blobs = find_candidates(view_of(), distance, target, shadowed)

    (spring,) = choose_springs(view_of(), blobs, target, shadowed)

    assert spring.fault is None


def test_what_reaches_the_end_of_the_view_is_cut_off() -> None:
    """A thing as broad as a spring that rises out of the picture has no top in it."""
    distance, coils = row_of((20.0, 45.0))
    block(distance, (60.0, 90.0), (0.0, TOP_MM))
    target = np.zeros(distance.shape[1], dtype=np.bool_)

    spring, other = find_candidates(view_of(), distance, target, coils)

    assert (spring.fault, other.fault) == (None, Reason.CUT_OFF)
