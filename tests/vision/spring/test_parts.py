"""Ends of coils of which parts are seen: their widest points, and what they measure."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import EdgePoints
from tests.vision.spring.helix import Helix, edge_points
from tests.vision.spring.outlines import INWARD, frame_of, make_outline
from tests.vision.spring.places import ABOVE, LEVEL, Place, make_camera
from tests.vision.spring.test_flank import WIRE_SHARE, exact_widest
from vision.records.measured import Outline
from vision.spring.solid import look

WIDEST_PX = 0.1  # what one radius for all leaves of an end that is seen to one side
UPPER = 0.15  # sine of the normal's angle above the widest point


def upper_part(flank: EdgePoints) -> EdgePoints:
    """Edges above the widest points: below them the wire is as the backdrop."""
    return flank.chosen(-flank.normals[:, 1] > UPPER)


def seen_in_part(outline: Outline) -> Outline:
    """Both flanks without what lies below the widest points."""
    left, right = upper_part(outline.left), upper_part(outline.right)
    return replace(outline, left=left, right=right)


def test_ends_to_one_side_show_no_widest_point_alone() -> None:
    """Each by itself, ends seen above their widest points only tell nothing."""
    outline = seen_in_part(make_outline(Helix(), LEVEL))

    alone = look(outline, make_camera(LEVEL))

    assert len(alone.left.u_px) == 0
    assert len(alone.right.u_px) == 0


@pytest.mark.parametrize("place", [LEVEL, ABOVE])
@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("hand", [1, -1])
def test_ends_to_one_side_tell_widest_points_together(
    place: Place, side: int, hand: int
) -> None:
    """Ends of one wire tell where each reaches farthest out, though none shows it."""
    helix, camera = Helix(slope_x=0.02, hand=hand), make_camera(place)
    frame = frame_of(helix, camera)

    parts = look(seen_in_part(make_outline(helix, place)), camera, parts=True)
    coils = parts.left if side < 0 else parts.right

    found = side * ((coils.points_px - frame.foot_px) @ frame.axes[0]) + INWARD.px
    exact = exact_widest(helix, place, side)
    inner = found[1:-1]  # the end coils are cut by the ground planes
    nearest = [min(abs(each - other) for other in exact) for each in inner]
    assert len(found) >= 3
    assert max(nearest) < WIDEST_PX


def test_wire_of_parts_is_the_wire_within_its_u() -> None:
    """The radius that all parts share is the wire's, and its u is stated."""
    place = Place(position_mm=(0.0, -1600.0, 24.0), focal_px=11200.0)

    coils = look(
        seen_in_part(make_outline(Helix(), place)), make_camera(place), parts=True
    ).right

    error_px = coils.radius_px[0] + INWARD.px - 2.0 * 7.0
    assert np.ptp(coils.radius_px) == pytest.approx(0.0)
    assert abs(error_px) < 2 * coils.u_wire_px + WIRE_SHARE


def test_parts_above_and_below_one_gap_are_one_end() -> None:
    """Where only the widest point melts away, what is left beside it is one end."""
    outline, camera = make_outline(Helix(), LEVEL), make_camera(LEVEL)
    gaps = [
        flank.chosen(np.abs(flank.normals[:, 1]) > UPPER)
        for flank in (outline.left, outline.right)
    ]

    whole = look(outline, camera)
    parts = look(replace(outline, left=gaps[0], right=gaps[1]), camera, parts=True)

    assert len(parts.left.u_px) <= len(whole.left.u_px) + 1
    heights = np.sort(parts.left.points_px[:, 1])
    assert np.diff(heights).min() > parts.left.radius_px[0]


def test_a_few_points_are_no_ends() -> None:
    """Flanks with hardly any edge show no coil, and raise nothing."""
    outline = make_outline(Helix(), LEVEL)
    none = edge_points(np.zeros((0, 2)), np.zeros((0, 2)))

    parts = look(
        replace(outline, left=none, right=outline.right.chosen(np.arange(6))),
        make_camera(LEVEL),
        parts=True,
    )

    assert len(parts.left.u_px) == 0
    assert len(parts.right.u_px) == 0


def test_a_part_far_above_the_others_is_no_end() -> None:
    """An edge of another thing, two turns above the highest coil, is left out."""
    outline, camera = seen_in_part(make_outline(Helix(), LEVEL)), make_camera(LEVEL)
    parts = look(outline, camera, parts=True)
    highest = outline.left.points_px[:, 1].min()
    usual = np.abs(np.median(np.diff(np.sort(parts.left.points_px[:, 1]))))
    up = np.array([0.0, -2.5 * usual])
    lone = outline.left.chosen(outline.left.points_px[:, 1] < highest + usual / 2)
    strange = replace(lone, points_px=lone.points_px + up)

    more = replace(outline, left=EdgePoints.joined([outline.left, strange]))
    found = look(more, camera, parts=True)

    assert len(strange.u_px) >= 7
    assert found.left.points_px[:, 1].min() > highest - usual
