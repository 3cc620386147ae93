"""Finding targets in synthetic photographs, and refusing what is not surely one."""

from dataclasses import replace

import numpy as np
import pytest

from calib.camera import project
from calib.errors import TargetError
from calib.records import Floats, Photo, SquareCard, TargetKind, TrySquare
from calib.target import find_target
from tests.calib.scene import CARD, SQUARE, Look, Scene, View, reference, take_photo

CORNER_PX = 1.5  # corners are rough by definition: depths and offsets are left in
EDGE_PX = 0.05  # a side's mean over dozens of points


def true_corners(scene: Scene) -> Floats:
    """The target's corners, once round, as the true camera shows them."""
    shape, d = scene.shape, scene.direction
    if isinstance(shape, TrySquare):
        flat = [
            (0.0, 0.0),
            (0.0, shape.blade_mm),
            (d * shape.blade_width_mm, shape.blade_mm),
            (d * shape.blade_width_mm, shape.stock_width_mm),
            (d * shape.stock_mm, shape.stock_width_mm),
            (d * shape.stock_mm, 0.0),
        ]
    else:
        assert isinstance(shape, SquareCard)
        low, high = shape.bottom_margin_mm, shape.bottom_margin_mm + shape.side_mm
        flat = [(0, low), (shape.side_mm, low), (shape.side_mm, high), (0, high)]
    world = [(x, scene.face_y_mm, z) for x, z in flat]
    return project(scene.view.camera, world)


SCENES = {
    "right hand": Scene(),
    "left hand": Scene(direction=-1),
    "card": Scene(shape=CARD),
    "pitched, turned and rolled": Scene(view=View(pitch=5.0, yaw=-4.0, roll=-4.5)),
    "card, rolled the other way": Scene(
        shape=CARD, view=View(pitch=-3.0, yaw=2.0, roll=5.0)
    ),
    "barrel distortion": Scene(view=View(k1=-0.08)),
    "card behind cushion distortion": Scene(shape=CARD, view=View(k1=0.06)),
    "bright metal on a dark backdrop": Scene(
        look=Look(backdrop=0.05, plate=0.02, metal=0.5)
    ),
    "metal near the plate's tone": Scene(look=Look(plate=0.15)),
    "soft and noisy": Scene(look=Look(blur_px=2.2, noise=6.0)),
    "a spring hides a part of the stock's end": Scene(
        others=((48.0, 0.0, 75.0, 9.0, -20.0, 0.2),)
    ),
    "stripes of coils beside it": Scene(
        direction=-1,
        others=tuple(
            (x, z, x + 30.0, z + 4.0, 0.0, 0.2)
            for x in (20.0, 60.0)
            for z in range(0, 45, 8)
        ),
    ),
}


@pytest.mark.parametrize("name", SCENES)
def test_a_target_is_found_to_sub_pixel(name: str) -> None:
    """Corners lie within a pixel, and each side's points on the true side."""
    scene = SCENES[name]
    assert scene.shape is not None

    sighting = find_target(take_photo(scene), reference(scene.shape))

    corners = true_corners(scene)
    np.testing.assert_allclose(sighting.corners_px, corners, rtol=0, atol=CORNER_PX)
    kind = TargetKind.TRY_SQUARE
    if isinstance(scene.shape, SquareCard):
        kind = TargetKind.SQUARE_CARD
    assert sighting.kind is kind
    assert sighting.direction == scene.direction
    assert sighting.blur_px == pytest.approx(
        np.hypot(scene.look.blur_px, 12**-0.5), rel=0.12
    )


def test_points_lie_on_the_true_edge() -> None:
    """The mean distance of a side's points from the true edge is near zero."""
    scene = Scene(view=View(roll=2.0))
    sighting = find_target(take_photo(scene), reference(SQUARE))
    camera = scene.view.camera
    ends = {
        "blade_outer": ((0, 0, 20), (0, 0, 90)),
        "tip": ((0, 0, 90), (16, 0, 90)),
        "blade_inner": ((16, 0, 20), (16, 0, 90)),
        "stock_top": ((20, 0, 15), (60, 0, 15)),
        "stock_end": ((60, 0, 0), (60, 0, 15)),
        "stock_bottom": ((0, 0, 0), (60, 0, 0)),
    }

    for side in sighting.sides:
        first, last = project(camera, ends[side.name])
        along = (last - first) / np.linalg.norm(last - first)
        beside = (side.points.points_px - first) @ np.array([-along[1], along[0]])
        assert abs(float(np.mean(beside))) < EDGE_PX, side.name
    assert {side.name for side in sighting.sides} == set(ends)


def refusal(photo: Photo, shape: TrySquare | SquareCard) -> str:
    """The sentence with which a photo is refused."""
    with pytest.raises(TargetError) as caught:
        find_target(photo, reference(shape))
    return str(caught.value)


def test_an_empty_stage_is_refused() -> None:
    """Without a target nothing is found, and the photo is named."""
    sentence = refusal(take_photo(Scene(shape=None), "empty.jpg"), SQUARE)

    assert sentence.startswith("empty.jpg: shows no target of the stated sizes.")


def test_coils_alone_are_no_target() -> None:
    """Stripes and posts in a row are taken for neither an L nor a square."""
    others = tuple(
        (x, z, x + 28.0, z + 4.0, 0.0, 0.15)
        for x in (-90.0, -40.0, 10.0, 60.0)
        for z in range(0, 50, 8)
    )
    photo = take_photo(Scene(shape=None, others=others))

    assert "shows no target" in refusal(photo, SQUARE)
    assert "shows no target" in refusal(photo, CARD)


def test_two_targets_are_refused() -> None:
    """Two alike squares leave open which one is meant."""
    one, other = Scene(shape=CARD), (-95.0, 8.0, -35.0, 68.0, 0.0, 0.02)
    paper = (-105.0, 0.0, -25.0, 78.0, 0.0, 0.6)
    photo = take_photo(replace(one, others=(paper, other)))

    assert "shows 2 shapes like the square card" in refusal(photo, CARD)


def test_a_dark_sheet_behind_is_no_second_target() -> None:
    """Its sides and bars across it are as far apart as a square's, almost."""
    sheet = (85.0, 0.0, 155.0, 130.0, 40.0, 0.06)
    bars = tuple((x, 57.6, x + 26.0, 60.6, 39.0, 0.3) for x in (84.0, 130.0))
    scene = Scene(shape=CARD, others=(sheet, *bars), look=Look(backdrop=0.5))

    sighting = find_target(take_photo(scene), reference(CARD))

    np.testing.assert_allclose(
        sighting.corners_px, true_corners(scene), rtol=0, atol=CORNER_PX
    )


def test_a_reflection_in_the_plate_is_no_second_target() -> None:
    """A glossy plate shows the card again, upside down and paler."""
    scene = Scene(shape=CARD)
    low, high = CARD.bottom_margin_mm, CARD.bottom_margin_mm + CARD.side_mm
    paper = (-10.0, -high - 10.0, CARD.side_mm + 10.0, 0.0, 0.0, 0.45)
    square = (0.0, -high, CARD.side_mm, -low, 0.0, 0.1)

    sighting = find_target(
        take_photo(replace(scene, others=(paper, square))), reference(CARD)
    )

    np.testing.assert_allclose(
        sighting.corners_px, true_corners(scene), rtol=0, atol=CORNER_PX
    )


def test_a_target_cut_off_by_the_frame_is_refused() -> None:
    """How far a corner lies outside is told."""
    photo = take_photo(Scene(view=View(place_mm=(150.0, -640.0, 130.0), yaw=5.0)))
    cut = replace(photo, rgb=np.ascontiguousarray(photo.rgb[120:]))

    sentence = refusal(cut, SQUARE)

    assert "cuts the target off" in sentence or "shows no target" in sentence


def test_a_tiny_target_is_refused() -> None:
    """A target of 35 px is named too small, with the limit."""
    view = View(size_px=(400, 300), focal_px=250.0, centre_off_px=(0.0, 0.0))

    sentence = refusal(take_photo(Scene(view=view)), SQUARE)

    assert "px long, at least 60 px are needed" in sentence


def test_a_blurred_target_is_refused() -> None:
    """A sigma of 6 px is named, with the limit."""
    sentence = refusal(take_photo(Scene(look=Look(blur_px=6.0))), SQUARE)

    assert "is blurred: the target's edges have a sigma of" in sentence
    assert "at most 4 px" in sentence


@pytest.mark.parametrize(
    ("wrong", "name", "true_mm"),
    [
        ({"blade_mm": 92.7}, "blade length", 90.0),
        ({"blade_mm": 87.3}, "blade length", 90.0),
        ({"stock_mm": 61.8}, "stock length", 60.0),
        ({"stock_mm": 58.2}, "stock length", 60.0),
        ({"blade_width_mm": 17.0}, "blade width", 16.0),
    ],
)
def test_sizes_that_the_photo_contradicts_are_refused(
    wrong: dict[str, float], name: str, true_mm: float
) -> None:
    """A length stated 3 % wrong is refused, with the figure seen and the one stated."""
    stated = TrySquare(**{**vars_of(SQUARE), **wrong})

    sentence = refusal(take_photo(Scene()), stated)

    assert f"{next(iter(wrong.values())):g} mm is stated" in sentence
    seen_mm = float(sentence.split(f"a {name} of ")[1].split(" mm")[0])
    assert seen_mm == pytest.approx(true_mm, rel=0.01)


def vars_of(shape: TrySquare) -> dict[str, float]:
    """The sizes by name."""
    return {
        "blade_mm": shape.blade_mm,
        "stock_mm": shape.stock_mm,
        "blade_width_mm": shape.blade_width_mm,
        "stock_width_mm": shape.stock_width_mm,
    }


def test_a_chessboard_is_no_try_square() -> None:
    """An outline of the right proportions in a patchwork is refused."""
    others = tuple(
        (-90.0 + 15.0 * i, 15.0 * j, -75.0 + 15.0 * i, 15.0 * (j + 1), 0.0, tone)
        for i in range(14)
        for j in range(7)
        for tone in (0.05 if (i + j) % 2 else 0.7,)
    )
    small = TrySquare(
        blade_mm=75.0, stock_mm=60.0, blade_width_mm=15.0, stock_width_mm=15.0
    )

    sentence = refusal(take_photo(Scene(shape=None, others=others)), small)

    assert "try square" in sentence or "target" in sentence


def test_equal_luminance_hides_no_side() -> None:
    """Metal and backdrop of one luminance and two colours part in a channel."""
    red = Scene(look=Look(backdrop=0.2, metal=0.5, plate=0.7))
    green = replace(red, look=replace(red.look, backdrop=0.389, metal=0.3))
    blue = replace(red, look=replace(red.look, backdrop=0.3, metal=0.3))
    photos = [take_photo(each, "colours.jpg") for each in (red, green, blue)]
    rgb = np.dstack([photo.rgb[..., k] for k, photo in enumerate(photos)])

    sighting = find_target(replace(photos[0], rgb=rgb), reference(SQUARE))

    assert {side.name for side in sighting.sides} >= {"blade_outer", "tip"}
    np.testing.assert_allclose(
        sighting.corners_px, true_corners(red), rtol=0, atol=CORNER_PX
    )


def test_a_faint_side_is_followed_in_the_channel_that_shows_it() -> None:
    """Grey metal before a tan card: 5 % in luminance, a quarter in red and in blue."""
    red = Scene(look=Look(backdrop=0.44, metal=0.33, plate=0.7, noise=3.0))
    green = replace(red, look=replace(red.look, backdrop=0.28, seed=1))
    blue = replace(red, look=replace(red.look, backdrop=0.24, seed=2))
    photos = [take_photo(each, "tan.jpg") for each in (red, green, blue)]
    rgb = np.dstack([photo.rgb[..., k] for k, photo in enumerate(photos)])

    sighting = find_target(replace(photos[0], rgb=rgb), reference(SQUARE))

    assert len(sighting.sides) == len(true_corners(red))
    np.testing.assert_allclose(
        sighting.corners_px, true_corners(red), rtol=0, atol=CORNER_PX
    )


def test_blade_and_stock_may_be_of_two_materials() -> None:
    """A bright blade in a dark stock is one plain face each."""
    blade, stock = (0.0, 14.0, 16.0, 90.0, 0.0, 0.5), (0.0, 0.0, 60.0, 15.0, 0.0, 0.03)
    scene = Scene(shape=None, others=(blade, stock), look=Look(backdrop=0.08))

    sighting = find_target(take_photo(scene), reference(SQUARE))

    corners = true_corners(replace(scene, shape=SQUARE))
    np.testing.assert_allclose(sighting.corners_px, corners, rtol=0, atol=CORNER_PX)


def test_a_box_beside_something_darker_is_no_card() -> None:
    """The card's square darkens inward at every side; a box need not."""
    beside, box = (-120.0, 0.0, -85.0, 90.0, 0.0, 0.01), (-85, 8, -25, 68, 0.0, 0.12)
    scene = Scene(shape=CARD, others=(beside, box), look=Look(backdrop=0.6))

    sighting = find_target(take_photo(scene), reference(CARD))

    np.testing.assert_allclose(
        sighting.corners_px, true_corners(scene), rtol=0, atol=CORNER_PX
    )


def test_a_small_target_beside_a_long_row_is_found() -> None:
    """A card of a thirtieth of the picture's width is searched for, too."""
    card = SquareCard(side_mm=30.0, bottom_margin_mm=8.0)
    view = View(size_px=(2400, 700), focal_px=1800.0, place_mm=(200.0, -640.0, 55.0))
    scene = Scene(shape=card, view=view)

    sighting = find_target(take_photo(scene), reference(card))

    np.testing.assert_allclose(
        sighting.corners_px, true_corners(scene), rtol=0, atol=CORNER_PX
    )


def test_sizes_do_not_contradict_a_focal_length_that_nobody_knows() -> None:
    """Seen from above through a long lens without a record, the card stays square."""
    above = View(place_mm=(15.0, -970.0, 135.0), pitch=5.5, yaw=0.0)
    view = replace(above, size_px=(1490, 838), focal_px=3560.0)
    scene = Scene(shape=CARD, view=view, look=Look(blur_px=0.7, noise=0.5))

    sighting = find_target(take_photo(scene, exif=False), reference(CARD))

    np.testing.assert_allclose(
        sighting.corners_px, true_corners(scene), rtol=0, atol=CORNER_PX
    )
