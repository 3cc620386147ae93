"""Random number generator in, the springs of a random set out; sizes invented."""

import math
from dataclasses import replace

import numpy as np

from scripts.rendering.families import Family
from scripts.rendering.records import SpringShape, Taper


def draw_set(rng: np.random.Generator, family: Family) -> tuple[list[SpringShape], str]:
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


def vary(rng: np.random.Generator, family: Family, nominal: SpringShape) -> SpringShape:
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
