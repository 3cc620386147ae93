"""Finding springs in painted pictures: any reasonable staging, and what is refused."""

import re
from dataclasses import replace

import numpy as np
import pytest

from calib.records import Calibration, Camera, EdgePoints, Floats, Photo
from tests.vision.painting import paint
from tests.vision.scenery import (
    BLACK_CLOTH,
    BLUE_CARD,
    BLUE_PAINT,
    BRIGHT_STEEL,
    DARK_PLATE,
    GREY_WALL,
    USUAL,
    Card,
    Scene,
    Square,
    Thing,
    look_at_row,
    make_row,
)
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import INWARD, outline_by
from tests.vision.spring.staging import make_calibration
from vision.outline.find import find_outlines
from vision.records.measured import Outline, Reason, Unmeasured

ROW_MM = (-85.0, -50.0, 85.0)
ALL_ROUND = 120  # edge points of a flank or top without gaps: some 130
EDGE_PX = 0.25  # 0.04 mm here; the painted edges themselves are good to 0.15 px

Found = tuple[Outline | Unmeasured, ...]


def calibration_of(camera: Camera, target: Card | Square | None) -> Calibration:
    """The true camera, and where the target hides the row."""
    box = (0.0, 0.0, 0.0, 0.0)
    if isinstance(target, Card):
        margin = target.margin_mm
        high = target.bottom_margin_mm + target.side_mm + margin
        box = (-margin, 0.0, target.side_mm + margin, high)
    if isinstance(target, Square):
        box = (0.0, 0.0, target.stock_mm, target.blade_mm)
    return replace(make_calibration(camera), target_box_mm=box)


def found_in(scene: Scene, camera: Camera | None = None) -> Found:
    camera = camera or look_at_row()
    return outlines_of(paint(scene, camera), scene, camera)


def outlines_of(photo: Photo, scene: Scene, camera: Camera) -> Found:
    calibration = calibration_of(camera, scene.target)
    here = scene.target is not None
    return find_outlines(photo, calibration, target_in_photo=here)


def reasons(found: Found) -> list[Reason | None]:
    return [each.reason if isinstance(each, Unmeasured) else None for each in found]


def off_px(found: EdgePoints, exact: EdgePoints, outward_px: float) -> Floats:
    """How far outward (n,) px located points lie of the nearest exact ones."""
    there = exact.points_px + outward_px * exact.normals
    apart = np.linalg.norm(found.points_px[:, None] - there[None], axis=2)
    nearest = apart.argmin(axis=1)
    away = ((found.points_px - there[nearest]) * exact.normals[nearest]).sum(axis=1)
    return np.asarray(away[apart.min(axis=1) < 3.0])


STAGINGS = {
    "dark wire, white sweep": Scene(),
    "dark wire, dark plate, lit wall": Scene(plate=DARK_PLATE),
    "bright wire, blue card": Scene(backdrop=BLUE_CARD, wire=BRIGHT_STEEL),
    "bright wire, white sweep": Scene(wire=BRIGHT_STEEL),
    "uneven light and noise": Scene(uneven=0.6, noise=0.03),
    "moderate blur, try square": Scene(blur_px=1.5, target=Square()),
}


@pytest.mark.parametrize("name", STAGINGS)
def test_springs_are_found_left_to_right_by_their_edges(name: str) -> None:
    """Every spring is found in its place, its flanks and top to a quarter pixel."""
    camera, springs = look_at_row(), make_row(ROW_MM)
    scene = replace(STAGINGS[name], springs=springs)
    wire_px = 6.0 * USUAL.wire_mm / 2
    curved_px = scene.blur_px**2 / (2 * wire_px)  # a curved edge is seen farther in

    found = found_in(scene, camera)

    assert reasons(found) == [None] * len(ROW_MM)
    assert [each.position for each in found] == [1, 2, 3]
    for outline, helix in zip(found, springs, strict=True):
        assert isinstance(outline, Outline)
        exact = outline_by(helix, camera)
        for side in ("left", "right"):
            flank = getattr(outline, side)
            off = off_px(flank, getattr(exact, side), INWARD.px - curved_px)
            assert abs(float(np.median(off))) < EDGE_PX
            assert len(off) > 0.6 * len(flank.u_px)
        assert abs(float(np.median(off_px(outline.top, exact.top, 0.0)))) < EDGE_PX


def test_bright_wire_before_black_cloth_is_found() -> None:
    """Its shaded side is as dark as the cloth, yet every spring is found."""
    scene = Scene(springs=make_row(ROW_MM), backdrop=BLACK_CLOTH, wire=BRIGHT_STEEL)

    assert reasons(found_in(scene)) == [None] * len(ROW_MM)


def test_paint_is_followed_where_it_crosses_a_wall_s_lightness() -> None:
    """Lit parts are brighter than the wall, shaded ones darker, some are neither."""
    scene = Scene(springs=make_row((-60.0,)), backdrop=GREY_WALL, wire=BLUE_PAINT)
    (outline,) = found_in(scene)

    assert isinstance(outline, Outline)
    for edges in (outline.left, outline.right, outline.top):
        assert len(edges.u_px) > ALL_ROUND


def test_normals_point_outward_and_are_unit() -> None:
    """Left edges face left, right ones right and top ones up, in a picture y down."""
    outline = found_in(Scene(springs=make_row(ROW_MM)))[1]

    assert isinstance(outline, Outline)
    assert (outline.left.normals[:, 0] < 0).all()
    assert (outline.right.normals[:, 0] > 0).all()
    assert (outline.top.normals[:, 1] < 0).all()
    for edges in (outline.left, outline.right, outline.top):
        assert np.linalg.norm(edges.normals, axis=1) == pytest.approx(1.0)


def test_boxes_hold_their_springs() -> None:
    """Each box spans the spring from plate to top, and boxes do not overlap."""
    camera, springs = look_at_row(), make_row(ROW_MM)

    found = found_in(Scene(springs=springs), camera)

    for each, helix in zip(found, springs, strict=True):
        x0, y0, x1, y1 = outline_by(helix, camera).box_px
        assert each.box_px == pytest.approx((x0, y0, x1, y1), abs=10.0)
    edges = [edge for each in found for edge in (each.box_px[0], each.box_px[2])]
    assert edges == sorted(edges)


def test_a_single_spring() -> None:
    """One spring is a row."""
    assert reasons(found_in(Scene(springs=make_row((-60.0,))))) == [None]


def test_twenty_four_springs() -> None:
    """Twenty-four small springs in two dozen places, each 3 mm from the next."""
    small = Helix(
        height_mm=24.0, outside_mm=10.0, top_outside_mm=10.0, wire_mm=1.5, turns=6.25
    )
    left = tuple(-206.0 + 13.0 * k for k in range(12))
    right = tuple(90.0 + 13.0 * k for k in range(12))
    camera = look_at_row((2600, 600), 5.5, (20.0, -700.0, 30.0))

    found = found_in(Scene(springs=make_row((*left, *right), small)), camera)

    assert reasons(found) == [None] * 24
    assert [each.position for each in found] == list(range(1, 25))


@pytest.mark.parametrize(
    ("height_mm", "outside_mm", "camera"),
    [
        (15.0, 12.0, look_at_row(position_mm=(20.0, -600.0, 20.0))),
        (120.0, 30.0, look_at_row((1560, 1200), 6.0, (20.0, -900.0, 90.0))),
    ],
)
def test_low_and_high_springs(
    height_mm: float, outside_mm: float, camera: Camera
) -> None:
    """Springs of 15 and of 120 mm are found by the same rules."""
    shape = Helix(
        height_mm=height_mm,
        outside_mm=outside_mm,
        top_outside_mm=outside_mm,
        wire_mm=outside_mm / 7.5,
        turns=5.25 if height_mm < 20 else 9.25,
    )

    found = found_in(Scene(springs=make_row((-75.0, -35.0, 90.0), shape)), camera)

    assert reasons(found) == [None] * 3


def test_portrait_picture() -> None:
    """A picture that is higher than wide."""
    camera = look_at_row((1100, 1500))

    found = found_in(Scene(springs=make_row((-45.0, 85.0))), camera)

    assert reasons(found) == [None, None]


def test_tapered_springs() -> None:
    """Conical springs are found like others."""
    shape = replace(USUAL, outside_mm=28.0, top_outside_mm=20.0)

    assert reasons(found_in(Scene(springs=make_row(ROW_MM, shape)))) == [None] * 3


def test_sixteen_bit_picture_shows_the_same() -> None:
    """The same light in 16 bits gives the same edges."""
    camera = look_at_row((1000, 700), 6.0, (-60.0, -700.0, 46.0), (0.3, 0.2, 0.0))
    scene = Scene(springs=make_row((-90.0, -50.0)), target=None)
    photo = paint(scene, camera)
    deep = replace(photo, rgb=photo.rgb.astype(np.uint16) * 257)

    shallow_found = outlines_of(photo, scene, camera)
    deep_found = outlines_of(deep, scene, camera)

    for one, other in zip(shallow_found, deep_found, strict=True):
        assert isinstance(one, Outline)
        assert isinstance(other, Outline)
        np.testing.assert_allclose(
            one.top.points_px, other.top.points_px, rtol=0, atol=0.02
        )


@pytest.mark.parametrize("apart_mm", [24.0, 22.0])
def test_touching_springs_are_named_and_the_others_kept(apart_mm: float) -> None:
    """Side by side, or pushed a little into each other's outline."""
    places = (-85.0, -85.0 + apart_mm, 85.0, 115.0)

    found = found_in(Scene(springs=make_row(places)))

    assert reasons(found) == [Reason.TOUCHES, Reason.TOUCHES, None, None]


def test_springs_cut_off_by_the_frame_are_named() -> None:
    """The first and the last stand half outside the picture."""
    found = found_in(Scene(springs=make_row((-112.0, -70.0, 90.0, 138.0))))

    assert reasons(found) == [Reason.CUT_OFF, None, None, Reason.CUT_OFF]


def test_a_fallen_spring_is_named() -> None:
    """A spring on its side has a length, but no free height."""
    scene = Scene(springs=make_row((-85.0, 85.0)), fallen=(-45.0,))

    assert reasons(found_in(scene)) == [None, Reason.FALLEN, None]


def test_an_empty_plate_shows_no_spring() -> None:
    """With or without a target there is nothing to find."""
    assert found_in(Scene()) == ()
    assert found_in(Scene(target=None)) == ()


def test_a_washer_on_the_plate_is_no_spring() -> None:
    """What is as flat as a washer is passed over."""
    washer = Thing(x_mm=(-60.0, -30.0), z_mm=(0.0, 3.0))
    scene = Scene(springs=make_row((-85.0, 85.0)), things=(washer,))

    assert reasons(found_in(scene)) == [None, None]


def test_a_block_is_not_taken_for_a_spring() -> None:
    """Something that stands there without coils gets no outline."""
    block = Thing(x_mm=(110.0, 140.0), z_mm=(0.0, 40.0))
    scene = Scene(springs=make_row((-85.0, 85.0)), things=(block,))

    found = found_in(scene)

    assert reasons(found)[:2] == [None, None]
    assert all(isinstance(each, Unmeasured) for each in found[2:])


def test_too_few_pixels_are_refused_with_their_number() -> None:
    """At 1.2 px per mm no coil has an arc left."""
    found = found_in(Scene(springs=make_row(ROW_MM)), look_at_row((420, 260), 1.2))

    assert set(reasons(found)) == {Reason.TOO_SMALL}
    for each in found:
        assert isinstance(each, Unmeasured)
        high, needed = re.findall(r"(\d+) px", each.detail)
        assert int(high) < int(needed) == 60


def test_a_picture_out_of_focus_is_not_measured() -> None:
    """At a blur of 5 px the wire's edges on both sides have run into each other."""
    camera, scene = look_at_row(), Scene(springs=make_row(ROW_MM), blur_px=5.0)
    calibration = replace(calibration_of(camera, scene.target), blur_px=5.0)

    found = find_outlines(paint(scene, camera), calibration, target_in_photo=True)

    assert reasons(found) == [Reason.BLURRED] * len(ROW_MM)


def test_springs_that_show_no_edge_in_a_blurred_picture_are_blurred() -> None:
    """Where the target is blurred too, that nothing is seen is no glare."""
    camera, scene = look_at_row(), Scene(springs=make_row(ROW_MM), blur_px=9.0)
    calibration = replace(calibration_of(camera, scene.target), blur_px=9.0)

    found = find_outlines(paint(scene, camera), calibration, target_in_photo=True)

    assert set(reasons(found)) == {Reason.BLURRED}


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "target"),
    [
        (22.0, -16.0, Card()),
        (-14.0, -16.0, Card()),
        (30.0, 16.0, Square()),
        (5.0, 16.0, Square()),
    ],
    ids=["before the card", "before its edge", "behind a stock", "behind a blade"],
)
def test_a_spring_at_the_target_is_named_hidden(
    x_mm: float, y_mm: float, target: Card | Square
) -> None:
    """A spring that overlaps the target keeps its place in the row, unmeasured."""
    one, two, three = make_row((-75.0, x_mm, 100.0))
    springs = (one, replace(two, foot_y_mm=y_mm), three)

    found = found_in(Scene(springs=springs, target=target))

    assert reasons(found) == [None, Reason.HIDDEN, None]


def test_a_spring_beside_paper_of_the_backdrop_tone_is_measured() -> None:
    """Where the card's paper cannot be told from the backdrop it hides nothing."""
    scene = Scene(springs=make_row((-75.0, -25.0, 100.0)))
    camera = look_at_row()
    calibration = calibration_of(camera, scene.target)
    wide = replace(calibration, target_box_mm=(-15.0, 0.0, 65.0, 83.0))

    found = find_outlines(paint(scene, camera), wide, target_in_photo=True)

    assert reasons(found) == [None] * 3


@pytest.mark.parametrize("apart_mm", [24.0, 22.0])
def test_two_touching_springs_alone_are_two(apart_mm: float) -> None:
    """No third spring shows what width is usual; the valley between them does."""
    found = found_in(Scene(springs=make_row((-60.0, -60.0 + apart_mm))))

    assert reasons(found) == [Reason.TOUCHES, Reason.TOUCHES]


def test_springs_three_millimetres_apart_are_single_springs() -> None:
    """The backdrop seen between them is enough."""
    springs = make_row((-95.0, -68.0, -41.0, 80.0, 107.0))

    assert reasons(found_in(Scene(springs=springs))) == [None] * 5


def test_things_without_coils_take_no_place_in_the_row() -> None:
    """A box at the picture's edge, a rod and a low block are not counted."""
    things = (
        Thing(x_mm=(-160.0, -105.0), z_mm=(0.0, 60.0), colour=(0.3, 0.2, 0.1)),
        Thing(x_mm=(-15.0, -12.0), z_mm=(0.0, 90.0)),
        Thing(x_mm=(112.0, 170.0), z_mm=(0.0, 25.0), colour=(0.1, 0.2, 0.3)),
    )
    springs = make_row((-75.0, -40.0, 90.0))

    found = found_in(Scene(springs=springs, things=things))

    assert reasons(found) == [None] * 3


@pytest.mark.parametrize("x_mm", [-67.0, -50.0, -42.0])
def test_the_edge_of_a_shadow_is_neither_spring_nor_frame(x_mm: float) -> None:
    """A hard shadow ends behind or beside a spring: every spring is found."""
    camera, springs = look_at_row(), make_row((-85.0, -50.0, 85.0))

    found = found_in(Scene(springs=springs, shadow_to_mm=x_mm), camera)

    assert reasons(found) == [None] * 3
    for each, helix in zip(found, springs, strict=True):
        x0, y0, x1, y1 = outline_by(helix, camera).box_px
        assert each.box_px == pytest.approx((x0, y0, x1, y1), abs=10.0)


def test_close_coils_that_are_black_before_a_light_are_one_spring() -> None:
    """Front coils cover the gaps between those behind: only flanks show backdrop."""
    close = replace(USUAL, height_mm=48.0, outside_mm=30.0, top_outside_mm=30.0)
    close = replace(close, wire_mm=3.6, turns=9.75)
    springs = tuple(replace(close, foot_x_mm=x) for x in (-95.0, -52.0, 90.0))

    found = found_in(Scene(springs=springs, wire=(0.0, 0.0, 0.0)))

    assert reasons(found) == [None, None, None]
