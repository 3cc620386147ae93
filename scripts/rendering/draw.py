"""Random number generator and family in, random scenes out."""

from dataclasses import replace

import numpy as np

from scripts.rendering.draw_row import draw_target, stand_in_row
from scripts.rendering.draw_springs import draw_set
from scripts.rendering.families import Family
from scripts.rendering.framing import aim_camera
from scripts.rendering.records import (
    Development,
    ExifFacts,
    Limits,
    Scene,
    Stage,
)

FULL_FRAME_DIAGONAL_MM = 43.2666


def draw_scene(rng: np.random.Generator, family: Family, index: int) -> Scene:
    """Draw one scene; the index only steers what should be evenly varied."""
    shapes, kind = draw_set(rng, family)
    target = draw_target(rng, index)
    springs, placed = stand_in_row(rng, family, shapes, target)
    stage = draw_stage(rng, family, index)
    camera = aim_camera(rng, family, springs, placed)
    nominal = float(np.median([s.free_height_mm for s in shapes]))
    return Scene(
        name=f"{family.name}_{index:03d}",
        springs=springs,
        target=placed,
        camera=camera,
        stage=stage,
        development=draw_development(rng, family, camera.width_px),
        exif=draw_exif(rng, family, camera.focal_px, camera.width_px),
        limits=Limits(
            name=f"Random set {index}",
            free_height_min_mm=round(nominal - 1.0, 1),
            free_height_max_mm=round(nominal + 1.0, 1),
            squareness_max="1.7 mm" if index % 2 else "2 deg",
        ),
        staging=family.name,
        spring_kind=kind,
    )


def draw_stage(rng: np.random.Generator, family: Family, index: int) -> Stage:
    """Draw surroundings; a family's stages take turns."""
    plate, backdrop, light = family.stages[index % len(family.stages)]
    finish = str(rng.choice(family.finishes))
    if backdrop == "dark-card":
        finish = "bright"  # dark wire before dark card is seen by nobody
    tones = ((0.08, 0.17, 0.36), (0.55, 0.42, 0.12), (0.12, 0.30, 0.16))
    colour = tones[int(rng.integers(0, len(tones)))]
    return Stage(
        plate=plate,
        backdrop=backdrop,
        light=light,
        finish=finish,
        back_edge_mm=rng.uniform(70.0, 150.0),
        backdrop_mm=rng.uniform(230.0, 340.0),
        colour=colour,
        seed=int(rng.integers(1, 1_000_000)),
    )


def draw_development(
    rng: np.random.Generator, family: Family, width_px: int
) -> Development:
    """Draw lens blur, exposure, noise and the phone's processing."""
    small = min(1.0, width_px / 2600.0)
    warm = rng.normal(0.0, 0.02)
    return Development(
        blur_px=max(0.6, rng.uniform(*family.blur_px) * small),
        white_level=rng.uniform(*family.white_level),
        noise=rng.uniform(*family.noise),
        vignetting=rng.uniform(0.03, 0.2),
        glare=rng.uniform(0.0, 0.02),
        s_curve=rng.uniform(0.0, 0.25),
        sharpening=rng.uniform(0.0, family.sharpening_max),
        tint=(1.0 + warm, 1.0, 1.0 - warm),
        jpeg_quality=int(rng.integers(*family.jpeg)),
        orientation=int(rng.choice([1, 1, 1, 3, 6, 8])),
        seed=int(rng.integers(1, 1_000_000)),
    )


def draw_exif(
    rng: np.random.Generator, family: Family, focal_px: float, width_px: int
) -> ExifFacts:
    """Write the focal length as a phone rounds it, or leave it out."""
    true_35mm = focal_px * FULL_FRAME_DIAGONAL_MM / (1.25 * width_px)
    kept = rng.random() < family.exif_share
    return ExifFacts(
        make="Tarnwick",
        model="Tarnwick P4",
        focal_mm=round(true_35mm / 4.63, 2) if kept else None,
        focal_35mm=round(true_35mm * (1.0 + rng.normal(0.0, 0.003))) if kept else None,
        taken=f"2031:03:{int(rng.integers(1, 29)):02d} 10:12:00",
        iso=int(rng.choice([50, 64, 100, 200])),
    )


def turn_quarter(rng: np.random.Generator, scene: Scene) -> Scene:
    """Make the second photo: each spring turned a quarter turn where it stood."""
    turned = tuple(
        replace(
            spring,
            turn_deg=spring.turn_deg + 90.0 + rng.normal(0.0, 2.0),
            x_mm=spring.x_mm + rng.normal(0.0, 0.4),
            y_mm=spring.y_mm + rng.normal(0.0, 0.4),
        )
        for spring in scene.springs
    )
    return replace(
        scene,
        name=f"{scene.name}_turned",
        springs=turned,
        development=replace(scene.development, seed=scene.development.seed + 1),
        note="second photo: each spring a quarter turn counter-clockwise from above",
    )
