"""Names of plates, backdrops, lights and finishes in, scene description out.

The description is the nested dictionary that the path tracer loads. Lengths in
mm; radiance in the picture's own linear unit, exposure comes later.
"""

import math
from typing import Any

import numpy as np

from scripts.rendering.records import Floats, Stage

Description = dict[str, Any]

PLATES = ("laminate", "granite", "ground-steel", "paper-sweep", "grey-card")
BACKDROPS = ("white-card", "colour-card", "dark-card", "lit-panel", "sweep")
LIGHTS = ("front-soft", "back-lit", "one-sided", "uneven", "daylight")
FINISHES = ("bright", "dark", "phosphate", "rusty")
HALF_WIDTH_MM = 1500.0
WALL_MM = 900.0


def grey(value: float) -> Description:
    """Describe a colourless reflectance or radiance."""
    return {"type": "rgb", "value": [value, value, value]}


def colour(value: tuple[float, float, float]) -> Description:
    """Describe a coloured reflectance or radiance."""
    return {"type": "rgb", "value": list(value)}


def describe_finish(name: str) -> Description:
    """Describe a wire's surface; ``vertex_wear`` (0..1) mixes its two states."""
    steel = {
        "bright": (0.20, 0.58, 0.34, 0.38),
        "dark": (0.26, 0.30, 0.38, 0.16),
        "phosphate": (0.40, 0.16, 0.5, 0.09),
        "rusty": (0.30, 0.45, 0.5, 0.25),
    }
    alpha, shine, worn_alpha, worn_shine = steel[name]
    clean = conductor(alpha, shine)
    if name == "rusty":
        worn: Description = {
            "type": "twosided",
            "bsdf": {"type": "diffuse", "reflectance": colour((0.19, 0.075, 0.03))},
        }
    else:
        worn = conductor(worn_alpha, worn_shine)
    return {
        "type": "blendbsdf",
        "weight": {"type": "mesh_attribute", "name": "vertex_wear"},
        "clean": clean,
        "worn": worn,
    }


def conductor(alpha: float, shine: float) -> Description:
    """Describe rough steel, its reflectance scaled by ``shine``."""
    return {
        "type": "twosided",
        "bsdf": {
            "type": "roughconductor",
            "material": "Cr",
            "distribution": "ggx",
            "alpha": alpha,
            "specular_reflectance": colour((shine, shine * 0.985, shine * 0.96)),
        },
    }


def wear_at(points: Floats, finish: str, seed: int) -> Floats:
    """Return the wear (0..1) at points (n, 3): a sum of random waves."""
    rng = np.random.default_rng(seed)
    total = np.zeros(len(points))
    for wavelength_mm, weight in ((14.0, 1.0), (6.0, 0.8), (2.5, 0.7), (1.2, 0.6)):
        for _ in range(5):
            direction = rng.normal(size=3)
            wave = direction / np.linalg.norm(direction) * 2 * math.pi / wavelength_mm
            total += weight * np.sin(points @ wave + rng.uniform(0, 2 * math.pi))
    spread = total / 3.6
    if finish == "rusty":
        return np.clip(0.55 + 0.45 * spread, 0.0, 1.0)
    return np.clip(0.25 + 0.30 * spread, 0.0, 1.0)


def describe_target(part: str, seed: int) -> Description:
    """Describe the surface of a target's part: steel, card or ink."""
    if part == "steel":
        steel = conductor(0.22, 1.0)
        steel["bsdf"]["specular_reflectance"] = texture(brushed(seed))
        return steel
    value = 0.78 if part == "card" else 0.035
    return {
        "type": "twosided",
        "bsdf": {"type": "diffuse", "reflectance": grey(value)},
    }


def brushed(seed: int) -> Floats:
    """Make the texture (512, 512, 3) of a used, ground steel face."""
    rng = np.random.default_rng(seed + 5)
    lines = rng.normal(size=(512, 1)) * 0.022 + rng.normal(size=(512, 512)) * 0.012
    y, x = np.mgrid[0:512, 0:512] / 512.0
    stains = np.zeros((512, 512))
    for _ in range(14):
        where, size = rng.uniform(0, 1, 2), rng.uniform(0.02, 0.12)
        far = ((x - where[0]) ** 2 + (y - where[1]) ** 2) / size**2
        stains += rng.normal(0.0, 0.07) * np.exp(-far)
    tone = np.clip(0.62 * (1.0 + lines + stains), 0.05, 1.0)
    return np.asarray(tone[:, :, None] * np.array([1.0, 0.985, 0.955]))


def texture(pixels: Floats) -> Description:
    """Describe a linear RGB texture (h, w, 3), repeated over the surface."""
    return {
        "type": "bitmap",
        "data": np.ascontiguousarray(pixels, dtype=np.float32),
        "raw": True,
        "wrap_mode": "mirror",
    }


def speckle(rng: np.random.Generator, base: Floats, spread: float) -> Floats:
    """Make a fine random texture (1024, 1024, 3) about a colour."""
    fine = rng.normal(size=(1024, 1024, 1))
    coarse = np.kron(rng.normal(size=(128, 128)), np.ones((8, 8)))[:, :, None]
    return np.clip(base * (1.0 + spread * (0.8 * fine + 0.4 * coarse)), 0.005, 0.95)


def plate_surface(stage: Stage) -> Description:
    """Describe the plate's surface by its name."""
    rng = np.random.default_rng(stage.seed + 17)
    if stage.plate == "ground-steel":
        lines = rng.normal(size=(1, 1024, 1)) * np.ones((64, 1, 1))
        tone = np.clip(0.42 * (1 + 0.06 * lines), 0, 1) * np.array([1.0, 0.99, 0.97])
        return {
            "type": "roughconductor",
            "material": "Cr",
            "alpha_u": 0.35,
            "alpha_v": 0.16,
            "specular_reflectance": texture(tone),
        }
    if stage.plate == "granite":
        base, spread = np.array([0.050, 0.052, 0.056]), 0.55
    elif stage.plate == "laminate":
        base, spread = np.array([0.56, 0.53, 0.48]), 0.025
    elif stage.plate == "grey-card":
        base, spread = np.array([0.28, 0.28, 0.28]), 0.02
    else:
        base, spread = np.array([0.74, 0.74, 0.73]), 0.012
    diffuse = texture(speckle(rng, base, spread))
    if stage.plate in ("paper-sweep", "grey-card"):
        return {"type": "diffuse", "reflectance": diffuse}
    return {
        "type": "roughplastic",
        "diffuse_reflectance": diffuse,
        "alpha": 0.25 if stage.plate == "granite" else 0.32,
        "int_ior": 1.35,
    }


def describe_ground(stage: Stage) -> dict[str, tuple[Floats, Floats, Description]]:
    """Return the surroundings as named strips: profile (n, 2) as (y, z), and surface.

    The second array of each is the texture's length along the profile in mm.
    """
    front = -1200.0
    if stage.backdrop == "sweep":
        turn = np.linspace(0.0, math.pi / 2, 40)
        radius = stage.backdrop_mm - stage.back_edge_mm
        arc = np.column_stack(
            (
                stage.back_edge_mm + radius * np.sin(turn),
                radius - radius * np.cos(turn),
            )
        )
        profile = np.vstack(([front, 0.0], arc, [stage.backdrop_mm, WALL_MM]))
        return {"plate": (profile, lengths(profile), plate_surface(stage))}
    edge = np.array([[front, 0.0], [stage.back_edge_mm, 0.0]])
    rear = np.array([[stage.back_edge_mm, 0.0], [stage.back_edge_mm, -60.0]])
    wall = np.array([[stage.backdrop_mm, -300.0], [stage.backdrop_mm, WALL_MM]])
    return {
        "plate": (edge, lengths(edge), plate_surface(stage)),
        "rear": (rear, lengths(rear), {"type": "diffuse", "reflectance": grey(0.1)}),
        "wall": (wall, lengths(wall), wall_surface(stage)),
    }


def lengths(profile: Floats) -> Floats:
    """Return the running length along a profile in mm."""
    steps = np.hypot(*np.diff(profile, axis=0).T)
    return np.concatenate(([0.0], np.cumsum(steps)))


def wall_surface(stage: Stage) -> Description:
    """Describe the backdrop's surface by its name."""
    tones = {
        "white-card": (0.76, 0.76, 0.75),
        "colour-card": stage.colour,
        "dark-card": (0.030, 0.031, 0.033),
        "lit-panel": (0.60, 0.60, 0.60),
    }
    base = np.array(tones[stage.backdrop])
    rng = np.random.default_rng(stage.seed + 31)
    return {"type": "diffuse", "reflectance": texture(speckle(rng, base, 0.012))}


def panel(
    origin: tuple[float, float, float],
    aim: tuple[float, float, float],
    size: tuple[float, float],
    radiance: float,
) -> Description:
    """Describe a rectangular lamp of half-size ``size`` mm that looks at a point."""
    return {
        "kind": "panel",
        "origin": origin,
        "aim": aim,
        "size": size,
        "radiance": radiance,
    }


def describe_lights(stage: Stage) -> tuple[list[Description], float]:
    """Return the lamps and the room's radiance all round."""
    row = (0.0, 0.0, 20.0)
    far = (0.0, stage.backdrop_mm, 150.0)
    top = panel((0.0, -60.0, 900.0), (0.0, 60.0, 0.0), (420.0, 260.0), 5.0)
    left = panel((-750.0, -520.0, 520.0), row, (260.0, 220.0), 7.0)
    right = panel((750.0, -520.0, 520.0), row, (260.0, 220.0), 6.0)
    wash = panel((0.0, stage.backdrop_mm - 160.0, 820.0), far, (500.0, 50.0), 10.0)
    rigs = {
        "front-soft": ([left, right, top], 0.35),
        "daylight": (
            [panel((-1100.0, -350.0, 700.0), row, (500.0, 450.0), 6.0), top],
            0.55,
        ),
        "one-sided": (
            [panel((-620.0, -250.0, 380.0), (0.0, 60.0, 40.0), (140.0, 140.0), 20.0)],
            0.22,
        ),
        "uneven": (
            [panel((420.0, -330.0, 520.0), (160.0, 60.0, 0.0), (70.0, 70.0), 60.0)],
            0.25,
        ),
        "back-lit": ([wash, top], 0.12),
    }
    return rigs[stage.light]
