"""The view straight at a spring, and wire seen from aside, against exact helices."""

import numpy as np
import pytest

from calib.records import Floats
from tests.vision.spring.helix import Helix, edge_points
from tests.vision.spring.outlines import frame_of, make_outline
from tests.vision.spring.places import NEAR, PLACES, Place, make_camera, seen
from vision.spring.facing import face
from vision.spring.rays import Stance
from vision.spring.solid import look, wire_of

HIGH_ASIDE = Place(position_mm=(150.0, -440.0, 150.0), pitch_deg=14.0, focal_px=3000.0)
LEVEL_ASIDE = Place(position_mm=(150.0, -440.0, 48.0), focal_px=3000.0)
HIGH = Place(position_mm=(0.0, -440.0, 150.0), focal_px=3000.0)


def axis_px(helix: Helix, place: Place) -> Floats:
    frame = frame_of(helix, make_camera(place))
    return np.vstack([frame.foot_px, frame.top_px])


@pytest.mark.parametrize("place", PLACES)
def test_what_is_seen_so_lies_where_it_lay_in_the_photo(place: Place) -> None:
    """There and back is the same point, whatever the lens bends."""
    facing = face(make_camera(place), axis_px(Helix(), place))
    points = np.array([[900.0, 700.0], [2000.0, 1500.0], [3100.0, 2300.0]])

    back = facing.in_photo(facing.seen(points))

    np.testing.assert_allclose(back, points, rtol=0, atol=1e-3)


@pytest.mark.parametrize("place", [NEAR, HIGH_ASIDE])
def test_the_axis_stands_upright_in_the_middle(place: Place) -> None:
    """Foot and top lie above one another, as far from the middle."""
    axis = axis_px(Helix(), place)

    foot, top = face(make_camera(place), axis).seen(axis)

    assert foot[0] == pytest.approx(0.0, abs=1e-6)
    assert top[0] == pytest.approx(0.0, abs=1e-6)
    assert foot[1] > 0 > top[1]
    assert foot[1] == pytest.approx(-top[1], rel=1e-6)


def test_a_ball_far_aside_is_seen_as_a_circle() -> None:
    """Its outline is drawn out in the photo, and its normals point from its middle."""
    camera, middle = make_camera(HIGH_ASIDE), np.array([0.0, 0.0, 24.0])
    sight = middle - camera.position_mm
    away = np.linalg.norm(sight)
    sight = sight / away
    aside = np.cross(sight, [0.0, 0.0, 1.0])
    aside = aside / np.linalg.norm(aside)
    other = np.cross(aside, sight)
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)[:, None]
    ring = middle + 3.0 * (np.cos(turn) * aside + np.sin(turn) * other)
    px = seen(camera, ring)
    ahead, behind = np.roll(px, -1, axis=0), np.roll(px, 1, axis=0)
    along = (ahead - behind) / np.linalg.norm(ahead - behind, axis=1, keepdims=True)
    normals = along[:, ::-1] * (1.0, -1.0)
    normals = (
        normals * np.sign(np.sum(normals * (px - px.mean(axis=0)), axis=1))[:, None]
    )
    facing = face(camera, seen(camera, middle + np.array([[0.0, 0, -5], [0, 0, 5]])))

    view = facing.seen_edges(edge_points(px, normals))

    from_middle = view.points_px - facing.seen(seen(camera, middle[None]))
    radius = np.linalg.norm(from_middle, axis=1)
    in_photo = np.linalg.norm(px - seen(camera, middle[None]), axis=1)
    assert np.ptp(radius) < 0.01 * radius.mean()
    assert np.ptp(in_photo) > 0.05 * in_photo.mean()
    assert radius.mean() == pytest.approx(3.0 * facing.focal_px / away, rel=0.01)
    np.testing.assert_allclose(
        view.normals, from_middle / radius[:, None], rtol=0, atol=0.01
    )


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("place", [LEVEL_ASIDE, HIGH, HIGH_ASIDE])
def test_wire_far_aside_and_from_above(place: Place, hand: int) -> None:
    """Wherever the lens stands, wire of 4 mm reads 4 mm within 1.5 %.

    In the photo as it is it would read 3.0 to 4.3 mm.
    """
    camera = make_camera(place)
    outline = make_outline(Helix(hand=hand, turns=7.5), place)

    wire = wire_of(Stance(camera=camera), look(outline, camera))

    assert wire.mm == pytest.approx(4.0, rel=0.015)
