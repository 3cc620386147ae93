"""Springs of the invented engine Harrow 4, and the scenes that they stand in."""

import math
from dataclasses import replace

import numpy as np

from scripts.rendering.framing import fit_frame, outline_points
from scripts.rendering.records import (
    Camera,
    Development,
    ExifFacts,
    Limits,
    PlacedSpring,
    PlacedTarget,
    Scene,
    SpringShape,
    Stage,
)

OUTER = SpringShape(
    free_height_mm=47.7, wire_mm=4.2, mean_bottom_mm=26.0, mean_top_mm=26.0, coils=6.9
)
INNER = SpringShape(
    free_height_mm=43.2,
    wire_mm=2.8,
    mean_bottom_mm=18.0,
    mean_top_mm=18.0,
    coils=8.4,
    hand="left",
)
TAPERED = SpringShape(
    free_height_mm=52.0,
    wire_mm=4.0,
    mean_bottom_mm=25.5,
    mean_top_mm=19.5,
    taper="beehive",
    coils=7.6,
)
LIMITS = Limits(
    name="Harrow 4, valve springs",
    free_height_min_mm=47.1,
    free_height_max_mm=48.3,
    squareness_max="1.7 mm",
)
INNER_LIMITS = Limits(
    name="Harrow 4, inner valve springs",
    free_height_min_mm=42.6,
    free_height_max_mm=43.8,
    squareness_max="1.5 mm",
)
TAPERED_LIMITS = Limits(
    name="Harrow 4 Sport, beehive valve springs",
    free_height_min_mm=51.2,
    free_height_max_mm=52.8,
    squareness_max="2 deg",
)
MILLIMETRES_35 = 43.2666  # diagonal of a 36 mm x 24 mm frame

Setting = tuple[Camera, Stage, PlacedTarget | None]


def shape_like(
    nominal: SpringShape,
    number: int,
    free_height_mm: float,
    lean_x_mm: float,
    lean_y_mm: float,
) -> SpringShape:
    """Make one spring of a set; its number settles what nobody chose."""
    rng = np.random.default_rng([1804, number])
    return replace(
        nominal,
        free_height_mm=free_height_mm,
        lean_x_mm=lean_x_mm,
        lean_y_mm=lean_y_mm,
        azimuth_deg=float(rng.uniform(0.0, 360.0)),
        coils=nominal.coils + float(rng.uniform(-0.04, 0.04)),
        bow_x_mm=float(rng.normal(0.0, 0.04)),
        bow_y_mm=float(rng.normal(0.0, 0.04)),
        tip_fraction=float(rng.uniform(0.21, 0.29)),
        unparallel_mm=abs(float(rng.normal(0.0, 0.03))),
        unparallel_azimuth_deg=float(rng.uniform(0.0, 360.0)),
    )


def pair_shapes() -> list[SpringShape]:
    """Make three outer springs and three inner ones, side by side."""
    outer = ((47.66, 0.30, 0.25), (47.85, -0.40, -0.20), (46.55, 0.25, -0.35))
    inner = ((43.30, -0.20, 0.30), (43.05, 1.95, 0.60), (43.21, 0.15, -0.25))
    shapes = []
    for number, (wide, narrow) in enumerate(zip(outer, inner, strict=True)):
        shapes.append(shape_like(OUTER, 71 + number, *wide))
        shapes.append(shape_like(INNER, 81 + number, *narrow))
    return shapes


def stand_camera(
    centre_mm: tuple[float, float, float],
    angles_deg: tuple[float, float, float],
    size_px: tuple[int, int],
    axis_px: tuple[float, float],
    *,
    k1: float,
) -> Camera:
    """Stand a camera by its centre, (pitch, roll, yaw), size and principal point.

    Its focal length is a start for ``fit_frame``.
    """
    return Camera(
        x_mm=centre_mm[0],
        y_mm=centre_mm[1],
        z_mm=centre_mm[2],
        pitch_deg=angles_deg[0],
        roll_deg=angles_deg[1],
        yaw_deg=angles_deg[2],
        focal_px=2.0 * size_px[0],
        width_px=size_px[0],
        height_px=size_px[1],
        cx_px=axis_px[0],
        cy_px=axis_px[1],
        k1=k1,
    )


def build_scene(
    name: str,
    shapes: list[SpringShape],
    places_mm: tuple[float, ...],
    setting: Setting,
    fill: float,
    nominal: SpringShape = OUTER,
) -> Scene:
    """Stand springs at their places and zoom until the row fills the width."""
    camera, stage, target = setting
    rng = np.random.default_rng(stage.seed)
    springs = tuple(
        PlacedSpring(shape=shape, x_mm=x_mm, y_mm=float(rng.normal(0.0, 0.4)))
        for shape, x_mm in zip(shapes, places_mm, strict=True)
    )
    camera = fit_frame(camera, outline_points(springs, target), fill)
    return Scene(
        name=name,
        springs=springs,
        target=target,
        camera=camera,
        stage=stage,
        development=Development(
            blur_px=0.8,
            white_level=0.70,
            noise=0.005,
            s_curve=0.12,
            sharpening=0.1,
            jpeg_quality=91,
            seed=stage.seed,
        ),
        exif=phone_facts(camera),
        limits=LIMITS if nominal is OUTER else TAPERED_LIMITS,
        staging="well",
        spring_kind=nominal.taper,
        samples=36,
    )


def phone_facts(camera: Camera) -> ExifFacts:
    """Write the focal length as the invented phone rounds it."""
    diagonal = math.hypot(camera.width_px, camera.height_px)
    true_35mm = camera.focal_px * MILLIMETRES_35 / diagonal
    return ExifFacts(
        make="Tarnwick",
        model="Tarnwick P4",
        focal_mm=round(true_35mm / 4.63, 2),
        focal_35mm=round(true_35mm),
        taken="2031:04:02 15:20:00",
    )


def developed(scene: Scene, **changes: float) -> Scene:
    """Return the scene with some facts of its development changed."""
    return replace(scene, development=replace(scene.development, **changes))  # type: ignore[arg-type]


def turn_all(scene: Scene, name: str) -> Scene:
    """Make the second photo: each spring turned a quarter turn, stood back again."""
    rng = np.random.default_rng(scene.stage.seed + 1)
    turned = tuple(
        replace(
            spring,
            turn_deg=spring.turn_deg + 90.0 + float(rng.normal(0.0, 2.0)),
            x_mm=spring.x_mm + float(rng.normal(0.0, 0.5)),
            y_mm=spring.y_mm + float(rng.normal(0.0, 0.4)),
        )
        for spring in scene.springs
    )
    return replace(
        scene,
        name=name,
        springs=turned,
        development=replace(scene.development, seed=scene.development.seed + 1),
        exif=replace(scene.exif, taken="2031:04:02 15:24:00"),
        note="second photo: each spring a quarter turn counter-clockwise from above",
    )
