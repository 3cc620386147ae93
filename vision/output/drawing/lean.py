"""The lean, drawn ten times as large as it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians, tan

import numpy as np

from calib.quantity import Quantity
from vision.output.drawing.box import Box
from vision.output.drawing.facts import Facts
from vision.output.drawing.strokes import (
    CHAIN,
    DASHED,
    Canvas,
    Floats,
    Stroke,
    draw_loop,
    draw_path,
)
from vision.output.palette import DATUM, FAINT, INK, RULE, coat
from vision.records.judged import Limit, Outcome, Requirement
from vision.records.measured import Characteristic, SpringMeasurement

EXAGGERATION = 10.0
USUAL_RADIUS_MM = 14.0
USUAL_HEIGHT_MM = 45.0
LEAST_OFFSET_MM = 1.0  # so that straight springs are not blown up
UPRIGHT_SHARE = 0.66  # of the panel's height, for the spring
FOOT_SHARE = 0.10  # of the panel's height, below the plate
ACROSS_SHARE = 0.47  # of the panel's width, to either side
BAR_PX = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """One spring seen from one side: mm at the top, not yet exaggerated."""

    offset_mm: float
    offset_u_mm: float  # expanded
    height_mm: float
    radius_mm: float
    limit_mm: float | None
    outcome: Outcome | None


def leans(facts: Facts) -> tuple[Lean, ...]:
    """Give the lean in the picture and, with two views, in depth."""
    spring = facts.spring
    if not isinstance(spring, SpringMeasurement):
        return ()
    height = _value(spring, Characteristic.FREE_HEIGHT, USUAL_HEIGHT_MM)
    radius = _value(spring, Characteristic.OUTSIDE_DIAMETER, 2 * USUAL_RADIUS_MM) / 2
    return tuple(
        Lean(
            offset_mm=_offset(part, height),
            offset_u_mm=height * radians(part.expanded),
            height_mm=height,
            radius_mm=radius,
            limit_mm=_limit_mm(facts, height),
            outcome=facts.outcome,
        )
        for part in spring.lean_parts_deg
        if part is not None
    )


def _value(spring: SpringMeasurement, kind: Characteristic, usual: float) -> float:
    quantity = spring.values.get(kind)
    known = quantity is not None and np.isfinite(quantity.value) and quantity.value > 0
    return quantity.value if quantity is not None and known else usual


def _offset(part: Quantity, height_mm: float) -> float:
    near = float(np.clip(np.nan_to_num(part.value), -80.0, 80.0))
    return height_mm * tan(radians(near))


def _limit_mm(facts: Facts, height_mm: float) -> float | None:
    """Give the squareness limit as an offset at the top."""
    for decision in facts.verdict.decisions if facts.verdict else ():
        if decision.requirement is Requirement.SQUARENESS and decision.limit:
            return _as_offset(decision.limit, height_mm)
    return None


def _as_offset(limit: Limit, height_mm: float) -> float | None:
    if limit.maximum is None:
        return None
    return (
        height_mm * tan(radians(limit.maximum))
        if limit.unit == "deg"
        else limit.maximum
    )


def common_scale(every: Sequence[Lean], panel: Box) -> float:
    """Choose one scale for all springs (px per mm), so that they compare."""
    height = max((lean.height_mm for lean in every), default=USUAL_HEIGHT_MM)
    reach = [
        lean.radius_mm + EXAGGERATION * np.clip(abs(lean.offset_mm), LEAST_OFFSET_MM, 4)
        for lean in every
    ]
    return float(
        min(
            UPRIGHT_SHARE * panel.height / height,
            ACROSS_SHARE * panel.width / max(reach, default=USUAL_RADIUS_MM),
        )
    )


def draw_lean(canvas: Canvas, panel: Box, lean: Lean, px_per_mm: float) -> None:
    """Draw plate, square line, the leaning spring, U as a bar and the limit."""
    foot = np.array(
        [
            (panel.left + panel.right) / 2,
            panel.bottom - FOOT_SHARE * panel.height,
        ]
    )
    up = lean.height_mm * px_per_mm
    most = ACROSS_SHARE * panel.width
    shift = EXAGGERATION * lean.offset_mm * px_per_mm
    shift = float(np.clip(shift, -most, most))
    top = foot + np.array([shift, -up])
    _draw_datum(canvas, panel, foot, up)
    _draw_body(canvas, foot, top, lean, px_per_mm)
    spread = min(EXAGGERATION * lean.offset_u_mm * px_per_mm, most)
    bar = Stroke(width_px=3)
    draw_path(canvas, top + np.array([[-spread, 0], [spread, 0]]), bar)
    for side in (-spread, spread):
        at = top + np.array([side, 0])
        draw_path(canvas, at + np.array([[0, -BAR_PX], [0, BAR_PX]]), bar)
    if lean.limit_mm is not None:
        reach = EXAGGERATION * lean.limit_mm * px_per_mm
        _draw_limits(canvas, panel, foot - np.array([0, up]), reach)


def _draw_datum(canvas: Canvas, panel: Box, foot: Floats, up: float) -> None:
    ends = np.array([[panel.left + 8, foot[1]], [panel.right - 8, foot[1]]])
    draw_path(canvas, ends, Stroke(width_px=4, colour=DATUM))
    square = np.array([foot, foot - np.array([0, up * 1.12])])
    draw_path(canvas, square, Stroke(width_px=3, colour=DATUM, pattern=DASHED))


def _draw_body(
    canvas: Canvas, foot: Floats, top: Floats, lean: Lean, px_per_mm: float
) -> None:
    half = np.array([lean.radius_mm * px_per_mm, 0.0])
    body = np.array([foot - half, top - half, top + half, foot + half])
    draw_loop(canvas, body, Stroke(width_px=4, colour=coat(lean.outcome).line))
    axis = np.array([foot, top])
    draw_path(canvas, axis, Stroke(width_px=3, colour=INK, pattern=CHAIN))


def _draw_limits(canvas: Canvas, panel: Box, square_top: Floats, reach: float) -> None:
    """Mark how far the top may lie to either side, where the panel has room for it."""
    if reach > panel.width / 2 - 4:
        return
    for side in (-reach, reach):
        at = square_top + np.array([side, 0.0])
        mark = at + np.array([[0.0, -20.0], [0.0, 20.0]])
        draw_path(canvas, mark, Stroke(width_px=8, colour=RULE))
        draw_path(canvas, mark, Stroke(width_px=3, colour=FAINT))
