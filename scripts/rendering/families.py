"""Random number generator in, random scenes of a family out.

``well`` is a picture taken as the guide asks, ``poor`` one that is not: too near,
from above, uneven light, blur. Drawn sizes are invented.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from scripts.rendering.framing import aim_camera
from scripts.rendering.records import (
    Development,
    ExifFacts,
    Hand,
    Limits,
    PlacedSpring,
    PlacedTarget,
    Scene,
    SpringShape,
    SquareCard,
    Stage,
    Taper,
    Target,
    TrySquare,
)
from scripts.rendering.target import span_of

LEAST_GAP_MM = 8.0
FULL_FRAME_DIAGONAL_MM = 43.2666


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """How carefully the pictures of a family are taken."""

    name: str
    distance_mm: tuple[float, float]
    above_tops_mm: tuple[float, float]
    pitch_max_deg: float
    roll_max_deg: float
    k1_max: float
    fill: tuple[float, float]
    sizes_px: tuple[tuple[int, int], ...]
    blur_px: tuple[float, float]
    white_level: tuple[float, float]
    noise: tuple[float, float]
    sharpening_max: float
    jpeg: tuple[int, int]
    stages: tuple[tuple[str, str, str], ...]
    finishes: tuple[str, ...]
    tapered_share: float
    yaw_sd_deg: float
    shape_error_mm: float
    exif_share: float


WELL = Family(
    name="well",
    distance_mm=(600.0, 1100.0),
    above_tops_mm=(-15.0, 15.0),
    pitch_max_deg=2.0,
    roll_max_deg=2.0,
    k1_max=0.015,
    fill=(0.66, 0.86),
    sizes_px=((3264, 2448), (3648, 2736), (4000, 3000)),
    blur_px=(0.6, 1.1),
    white_level=(0.58, 0.78),
    noise=(0.003, 0.007),
    sharpening_max=0.25,
    jpeg=(88, 96),
    stages=(
        ("paper-sweep", "sweep", "front-soft"),
        ("paper-sweep", "sweep", "daylight"),
        ("laminate", "white-card", "front-soft"),
        ("grey-card", "lit-panel", "back-lit"),
        ("granite", "white-card", "front-soft"),
        ("laminate", "lit-panel", "back-lit"),
    ),
    finishes=("bright", "dark", "phosphate", "bright"),
    tapered_share=0.15,
    yaw_sd_deg=0.7,
    shape_error_mm=0.04,
    exif_share=1.0,
)

POOR = Family(
    name="poor",
    distance_mm=(350.0, 700.0),
    above_tops_mm=(0.0, 120.0),
    pitch_max_deg=12.0,
    roll_max_deg=4.0,
    k1_max=0.05,
    fill=(0.62, 0.97),
    sizes_px=((1632, 1224), (2048, 1536), (2592, 1944), (3264, 2448), (4000, 3000)),
    blur_px=(0.9, 2.0),
    white_level=(0.42, 1.1),
    noise=(0.006, 0.015),
    sharpening_max=0.6,
    jpeg=(75, 90),
    stages=(
        ("laminate", "white-card", "one-sided"),
        ("ground-steel", "white-card", "uneven"),
        ("granite", "dark-card", "front-soft"),
        ("laminate", "colour-card", "one-sided"),
        ("paper-sweep", "sweep", "uneven"),
        ("ground-steel", "colour-card", "daylight"),
        ("granite", "white-card", "one-sided"),
    ),
    finishes=("dark", "rusty", "bright", "rusty"),
    tapered_share=0.4,
    yaw_sd_deg=2.0,
    shape_error_mm=0.07,
    exif_share=0.75,
)

FAMILIES = {"well": WELL, "poor": POOR}


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


def draw_set(
    rng: np.random.Generator, family: Family
) -> tuple[list[SpringShape], str]:
    """Draw the springs of a set about one nominal, or about two of a pair."""
    count = int(rng.integers(3, 11))
    taper: Taper = "straight"
    if rng.random() < family.tapered_share:
        taper = "conical" if rng.random() < 0.5 else "beehive"
    outer = draw_nominal(rng, taper)
    nominals, kind = [outer], str(taper)
    if taper == "straight" and count >= 4 and rng.random() < 0.2:
        nominals.append(draw_inner(outer))
        kind = "inner and outer"
    chosen = [nominals[k % len(nominals)] for k in range(count)]
    return [vary(rng, family, nominal) for nominal in chosen], kind


def draw_nominal(rng: np.random.Generator, taper: Taper) -> SpringShape:
    """Draw a nominal spring."""
    outside = rng.uniform(20.0 if taper != "straight" else 18.0, 38.0)
    wire = float(np.clip(outside / rng.uniform(6.0, 9.0), 2.5, 6.0))
    height = rng.uniform(max(25.0, 1.1 * outside), min(75.0, 2.1 * outside))
    mean = outside - wire
    top = mean if taper == "straight" else mean * rng.uniform(0.70, 0.84)
    active = max(2.5, (height - 1.5 * wire) / (wire * rng.uniform(1.55, 2.2)))
    return SpringShape(
        free_height_mm=height,
        wire_mm=wire,
        mean_bottom_mm=mean,
        mean_top_mm=top,
        taper=taper,
        coils=round(2.0 + active, 2),
        hand="right" if rng.random() < 0.7 else "left",
    )


def draw_inner(outer: SpringShape) -> SpringShape:
    """Make the inner spring that would stand inside an outer one."""
    wire = max(2.5, 0.7 * outer.wire_mm)
    mean = max(18.0, outer.mean_bottom_mm - outer.wire_mm - 1.5) - wire
    height = max(25.0, 0.9 * outer.free_height_mm)
    return replace(
        outer,
        free_height_mm=height,
        wire_mm=wire,
        mean_bottom_mm=mean,
        mean_top_mm=mean,
        coils=round(2.0 + max(2.5, (height - 1.5 * wire) / (1.8 * wire)), 2),
        hand="left" if outer.hand == "right" else "right",
    )


def vary(
    rng: np.random.Generator, family: Family, nominal: SpringShape
) -> SpringShape:
    """Vary a nominal spring as a used set varies; some are short or lean."""
    short = rng.uniform(0.8, 2.5) if rng.random() < 0.15 else 0.0
    lean_deg = min(abs(rng.normal(0.0, 0.7)), 3.0)
    if rng.random() < 0.2:
        lean_deg = rng.uniform(1.5, 3.0)
    height = nominal.free_height_mm + rng.normal(0.0, 0.35) - short
    lean_mm = (height - nominal.wire_mm) * math.tan(math.radians(lean_deg))
    toward = rng.uniform(0.0, 2.0 * math.pi)
    error = family.shape_error_mm
    drift = rng.normal(0.0, 0.05)
    return replace(
        nominal,
        free_height_mm=height,
        wire_mm=nominal.wire_mm + rng.normal(0.0, 0.01),
        mean_bottom_mm=nominal.mean_bottom_mm + drift,
        mean_top_mm=nominal.mean_top_mm + drift,
        coils=nominal.coils + rng.uniform(-0.05, 0.05),
        azimuth_deg=rng.uniform(0.0, 360.0),
        lean_x_mm=lean_mm * math.cos(toward),
        lean_y_mm=lean_mm * math.sin(toward),
        bow_x_mm=rng.normal(0.0, error),
        bow_y_mm=rng.normal(0.0, error),
        tip_fraction=rng.uniform(0.2, 0.3),
        unparallel_mm=abs(rng.normal(0.0, error)),
        unparallel_azimuth_deg=rng.uniform(0.0, 360.0),
    )


def draw_target(rng: np.random.Generator, index: int) -> Target:
    """Draw a target; kinds and hands take turns."""
    if index % 5 in (1, 3):
        side = float(rng.choice([40.0, 50.0, 60.0]))
        return SquareCard(side_mm=side, bottom_margin_mm=float(rng.integers(5, 13)))
    hand: Hand = "right" if rng.random() < 0.5 else "left"
    thick = rng.random() < 0.2
    return TrySquare(
        blade_mm=float(rng.integers(60, 101)),
        stock_mm=float(rng.integers(40, 61)),
        blade_width_mm=round(rng.uniform(10.0, 18.0), 1),
        stock_width_mm=round(rng.uniform(11.0, 18.0), 1),
        thickness_mm=round(rng.uniform(1.0, 2.5), 1),
        stock_projection_mm=round(rng.uniform(3.0, 6.0), 1) if thick else 0.0,
        hand=hand,
    )


def err_sizes(rng: np.random.Generator, stated: Target, sd_mm: float) -> Target:
    """Return the target as it really is, off its stated sizes by the sd."""
    errors = rng.normal(0.0, sd_mm, size=4)
    if isinstance(stated, TrySquare):
        return replace(
            stated,
            blade_mm=stated.blade_mm + errors[0],
            stock_mm=stated.stock_mm + errors[1],
            blade_width_mm=stated.blade_width_mm + errors[2],
            stock_width_mm=stated.stock_width_mm + errors[3],
        )
    return replace(
        stated,
        side_mm=stated.side_mm + errors[0],
        bottom_margin_mm=stated.bottom_margin_mm + errors[1],
    )


def stand_in_row(
    rng: np.random.Generator,
    family: Family,
    shapes: list[SpringShape],
    target: Target,
) -> tuple[tuple[PlacedSpring, ...], PlacedTarget]:
    """Stand springs and target in a row with uneven gaps, centred on x = 0."""
    widest = [max(s.mean_bottom_mm, s.mean_top_mm) + s.wire_mm for s in shapes]
    place = int(rng.integers(0, len(shapes) + 1))
    left, right = span_of(target)
    widths = [*widest[:place], right - left, *widest[place:]]
    gaps = LEAST_GAP_MM + rng.uniform(0.0, 12.0, size=len(widths))
    ends = np.cumsum(np.array(widths) + gaps)
    starts = ends - np.array(widths)
    middle = (starts[0] + ends[-1]) / 2
    centres = (starts + ends) / 2 - middle
    target_x = starts[place] - left - middle
    spring_x = np.delete(centres, place)
    depth = rng.normal(0.0, 0.4, size=len(shapes))
    springs = tuple(
        PlacedSpring(shape=shape, x_mm=float(x), y_mm=float(y))
        for shape, x, y in zip(shapes, spring_x, depth, strict=True)
    )
    stated_offset = 0.0 if rng.random() < 0.5 else round(max(widest) / 2, 1)
    return springs, PlacedTarget(
        actual=err_sizes(rng, target, 0.02),
        stated=target,
        x_mm=float(target_x),
        face_offset_mm=stated_offset + rng.normal(0.0, 0.4),
        stated_face_offset_mm=stated_offset,
        yaw_deg=rng.normal(0.0, family.yaw_sd_deg),
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
