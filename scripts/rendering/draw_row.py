"""Random number generator in, a target and springs standing in a row out."""

from dataclasses import replace

import numpy as np

from scripts.rendering.families import Family
from scripts.rendering.records import (
    Hand,
    PlacedSpring,
    PlacedTarget,
    SpringShape,
    SquareCard,
    Target,
    TrySquare,
)
from scripts.rendering.target import span_of

LEAST_GAP_MM = 8.0


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
