"""Sample sets taken as the guide asks, with straight springs."""

from dataclasses import replace

from scripts.rendering.records import (
    PlacedTarget,
    Scene,
    SquareCard,
    Stage,
    TrySquare,
)
from scripts.rendering.sets_harrow import (
    OUTER,
    build_scene,
    developed,
    shape_like,
    stand_camera,
    turn_all,
)

HARROW_ROW_STAGE = Stage(
    plate="paper-sweep",
    backdrop="sweep",
    light="front-soft",
    finish="bright",
    back_edge_mm=140.0,
    backdrop_mm=330.0,
    seed=41,
)
SQUARE_ALONE_STAGE = Stage(
    plate="laminate",
    backdrop="colour-card",
    light="daylight",
    finish="phosphate",
    back_edge_mm=130.0,
    colour=(0.55, 0.42, 0.12),
    seed=43,
)


def harrow_row() -> list[Scene]:
    """Eight springs of one engine and, in a second photo, a quarter turn on."""
    facts = (
        (47.82, 0.35, -0.20),
        (47.55, -0.50, 0.30),
        (45.90, 0.25, 0.45),  # clearly short
        (47.70, 0.10, -0.35),
        (47.20, -0.30, -0.15),  # near the lower limit of 47.1 mm
        (47.91, 0.55, 0.40),
        (47.64, 1.05, 2.45),  # out of square; shows little from this side
        (47.75, -0.20, 0.15),
    )
    shapes = [shape_like(OUTER, number, *fact) for number, fact in enumerate(facts, 1)]
    square = TrySquare(
        blade_mm=90.0, stock_mm=55.0, blade_width_mm=16.0, stock_width_mm=16.0
    )
    target = PlacedTarget(
        actual=replace(square, blade_mm=90.012, stock_mm=54.985),
        stated=square,
        x_mm=-27.0,
        face_offset_mm=0.35,
        stated_face_offset_mm=0.0,
        yaw_deg=0.4,
    )
    places = (-196.0, -152.5, -107.0, -62.0, 62.0, 105.5, 151.0, 194.0)
    camera = stand_camera(
        (6.0, -870.0, 50.0),
        (0.9, -0.4, -0.3),
        (4000, 3000),
        (2006.0, 1493.5),
        k1=-0.008,
    )
    row = build_scene("row", shapes, places, (camera, HARROW_ROW_STAGE, target), 0.86)
    return [row, turn_all(row, "row_turned")]


def backlit_dark() -> list[Scene]:
    """Six dark springs before a lit panel, a card with a printed square."""
    facts = (
        (47.95, 0.20, 0.30),
        (47.40, -0.75, 0.10),
        (47.68, 0.30, -0.55),
        (46.30, 0.15, 0.20),
        (47.74, 2.60, -0.40),
        (47.86, -0.25, -0.30),
    )
    shapes = [shape_like(OUTER, number, *fact) for number, fact in enumerate(facts, 11)]
    card = SquareCard(side_mm=60.0, bottom_margin_mm=8.0)
    target = PlacedTarget(
        actual=replace(card, side_mm=60.02, bottom_margin_mm=8.03),
        stated=card,
        x_mm=-8.0,
        face_offset_mm=14.7,
        stated_face_offset_mm=15.1,
        yaw_deg=-0.6,
    )
    camera = stand_camera(
        (-9.0, -980.0, 42.0),
        (-0.6, 0.9, 0.6),
        (3648, 2736),
        (1818.0, 1371.0),
        k1=0.006,
    )
    stage = Stage(
        plate="grey-card",
        backdrop="lit-panel",
        light="back-lit",
        finish="dark",
        back_edge_mm=90.0,
        seed=42,
    )
    places = (-176.0, -128.0, -82.0, 74.0, 121.0, 165.0)
    scene = build_scene("row", shapes, places, (camera, stage, target), 0.84)
    return [developed(scene, orientation=6, white_level=0.78)]


def square_alone() -> list[Scene]:
    """Photograph the try square alone, then the row from the unmoved camera."""
    facts = (
        (47.62, 0.30, -0.25),
        (47.88, -0.45, 0.35),
        (46.60, 0.70, 0.20),
        (47.51, -0.15, -0.60),
        (47.79, -2.35, 0.50),
    )
    shapes = [shape_like(OUTER, number, *fact) for number, fact in enumerate(facts, 21)]
    square = TrySquare(
        blade_mm=100.0,
        stock_mm=60.0,
        blade_width_mm=18.0,
        stock_width_mm=15.0,
        thickness_mm=2.0,
        hand="left",
    )
    target = PlacedTarget(
        actual=replace(square, blade_mm=99.985, stock_mm=60.01),
        stated=square,
        x_mm=30.0,
        face_offset_mm=-0.3,
        stated_face_offset_mm=0.0,
        yaw_deg=0.5,
    )
    camera = stand_camera(
        (-4.0, -760.0, 55.0),
        (1.6, 0.5, 0.2),
        (4000, 3000),
        (1991.0, 1508.0),
        k1=-0.012,
    )
    places = (-108.0, -57.0, -3.0, 49.0, 104.0)
    row = build_scene("row", shapes, places, (camera, SQUARE_ALONE_STAGE, None), 0.8)
    alone = replace(row, name="square", springs=(), target=target)
    row = replace(row, development=replace(row.development, seed=430))
    return [alone, row]
