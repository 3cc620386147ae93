"""Sample sets of other springs, surroundings and camera heights."""

from dataclasses import replace

from scripts.rendering.records import (
    PlacedTarget,
    Scene,
    SquareCard,
    Stage,
    TrySquare,
)
from scripts.rendering.sets_harrow import (
    INNER_LIMITS,
    OUTER,
    TAPERED,
    build_scene,
    developed,
    pair_shapes,
    shape_like,
    stand_camera,
)

BEEHIVE_SQUARE = TrySquare(
    blade_mm=75.0,
    stock_mm=50.0,
    blade_width_mm=15.0,
    stock_width_mm=14.0,
    thickness_mm=1.5,
    hand="left",
)
BEEHIVE_GRANITE_STAGE = Stage(
    plate="granite",
    backdrop="white-card",
    light="front-soft",
    finish="bright",
    back_edge_mm=95.0,
    seed=44,
)
PAIRS_RUSTY_STAGE = Stage(
    plate="paper-sweep",
    backdrop="sweep",
    light="daylight",
    finish="rusty",
    back_edge_mm=110.0,
    backdrop_mm=300.0,
    seed=45,
)


def beehive_granite() -> list[Scene]:
    """Five beehive springs on a dark plate, the lens well above their tops."""
    facts = (
        (52.10, 0.25, 0.30),
        (51.72, -0.60, 0.20),
        (52.34, 0.35, -0.50),
        (50.40, 0.20, 0.10),
        (51.95, 2.40, 0.60),
    )
    shapes = [
        shape_like(TAPERED, number, *fact) for number, fact in enumerate(facts, 31)
    ]
    target = PlacedTarget(
        actual=BEEHIVE_SQUARE,
        stated=BEEHIVE_SQUARE,
        x_mm=84.0,
        face_offset_mm=0.4,
        stated_face_offset_mm=0.0,
        yaw_deg=-0.5,
    )
    camera = stand_camera(
        (12.0, -690.0, 98.0),
        (4.2, -1.6, -0.8),
        (4000, 3000),
        (2004.0, 1502.0),
        k1=0.015,
    )
    places = (-134.0, -84.0, -37.0, 12.0, 122.0)
    return [
        build_scene(
            "row",
            shapes,
            places,
            (camera, BEEHIVE_GRANITE_STAGE, target),
            0.82,
            TAPERED,
        )
    ]


def pairs_rusty() -> list[Scene]:
    """Three outer springs and their inner ones, rusty, by daylight."""
    shapes = pair_shapes()
    square = TrySquare(
        blade_mm=80.0,
        stock_mm=50.0,
        blade_width_mm=14.0,
        stock_width_mm=18.0,
        thickness_mm=2.0,
        stock_projection_mm=5.0,
    )
    target = PlacedTarget(
        actual=replace(square, blade_mm=80.02),
        stated=square,
        x_mm=-24.0,
        face_offset_mm=15.4,
        stated_face_offset_mm=15.1,
        yaw_deg=0.3,
    )
    camera = stand_camera(
        (-7.0, -820.0, 47.0),
        (0.4, 1.8, 0.6),
        (3648, 2736),
        (1829.0, 1362.0),
        k1=-0.004,
    )
    places = (-139.0, -93.0, -50.0, 58.0, 104.0, 149.0)
    scene = build_scene(
        "row", shapes, places, (camera, PAIRS_RUSTY_STAGE, target), 0.82
    )
    return [
        developed(
            replace(scene, spring_kind="inner and outer", inner_limits=INNER_LIMITS),
            orientation=3,
        )
    ]


def high_rusty() -> list[Scene]:
    """Not as the guide asks: near, from above, one lamp at the side."""
    facts = (
        (47.45, 0.40, 0.25),
        (47.90, -0.55, -0.30),
        (46.20, 0.60, -0.35),
        (47.77, 0.15, 1.95),
    )
    shapes = [shape_like(OUTER, number, *fact) for number, fact in enumerate(facts, 51)]
    card = SquareCard(side_mm=50.0, bottom_margin_mm=10.0)
    target = PlacedTarget(
        actual=replace(card, side_mm=49.98),
        stated=card,
        x_mm=24.0,
        face_offset_mm=0.6,
        stated_face_offset_mm=0.0,
        yaw_deg=1.2,
    )
    camera = stand_camera(
        (-15.0, -455.0, 128.0),
        (9.5, 2.6, 1.4),
        (4000, 3000),
        (1996.0, 1506.0),
        k1=0.03,
    )
    stage = Stage(
        plate="laminate",
        backdrop="white-card",
        light="one-sided",
        finish="rusty",
        back_edge_mm=140.0,
        seed=46,
    )
    places = (-104.0, -52.0, 91.0, 139.0)
    scene = build_scene("row", shapes, places, (camera, stage, target), 0.85)
    scene = developed(scene, blur_px=1.4, jpeg_quality=82, s_curve=0.25)
    return [replace(scene, staging="poor")]


def dark_backdrop() -> list[Scene]:
    """Bright springs before a dark card, the picture stored on its side."""
    facts = (
        (47.58, -0.35, 0.30),
        (47.83, 0.45, 0.15),
        (47.12, 0.20, -0.40),
        (47.69, -0.25, -0.20),
    )
    shapes = [shape_like(OUTER, number, *fact) for number, fact in enumerate(facts, 61)]
    square = TrySquare(
        blade_mm=90.0, stock_mm=55.0, blade_width_mm=16.0, stock_width_mm=16.0
    )
    target = PlacedTarget(
        actual=square,
        stated=square,
        x_mm=-86.0,
        face_offset_mm=-0.45,
        stated_face_offset_mm=0.0,
        yaw_deg=-0.3,
    )
    camera = stand_camera(
        (3.0, -900.0, 46.0),
        (0.3, -0.8, -0.2),
        (3648, 2736),
        (1820.0, 1369.0),
        k1=0.004,
    )
    stage = Stage(
        plate="grey-card",
        backdrop="dark-card",
        light="front-soft",
        finish="bright",
        back_edge_mm=100.0,
        seed=47,
    )
    places = (-118.0, 1.0, 49.0, 96.0)
    scene = build_scene("row", shapes, places, (camera, stage, target), 0.8)
    return [developed(scene, orientation=8, white_level=0.6)]
