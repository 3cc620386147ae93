"""The lean rose: seen from above, which way a spring's top leans and how far."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, pi, sin

from calib.quantity import Quantity
from vision.output.sheet.figure import (
    FIRM,
    HAIR,
    Disc,
    Figure,
    Mark,
    Point,
    Word,
    dashes,
    line,
    tick_step,
)
from vision.output.sheet.ink import Ink, outcome_ink
from vision.output.show import Units, show_given, show_quantity
from vision.records.judged import Limit, Outcome
from vision.records.measured import Characteristic, SpringMeasurement

SIZE = 40.0
CENTRE: Point = (20.0, 18.5)
RADIUS = 14.0
EIGHTHS = (
    "to the right",
    "to the right and away from the camera",
    "away from the camera",
    "to the left and away from the camera",
    "to the left",
    "to the left and toward the camera",
    "toward the camera",
    "to the right and toward the camera",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How far a top stands off (mm or deg) and where to (rad, 0 right, pi/2 away)."""

    position: int
    size: Quantity
    heading_rad: float
    whole: bool  # known from two views, not only in the picture plane


def read_lean(spring: SpringMeasurement, limit: Limit | None) -> Lean | None:
    """Take the lean in the limit's unit, or as squareness in mm without a limit."""
    in_degrees = limit is not None and limit.unit == "deg"
    asked = Characteristic.LEAN if in_degrees else Characteristic.SQUARENESS
    size = spring.values.get(asked)
    if size is None:
        return None
    right, away = spring.lean_parts_deg
    return Lean(
        position=spring.position,
        size=size,
        heading_rad=atan2(away.value if away else 0.0, right.value),
        whole=away is not None,
    )


def heading_words(lean: Lean) -> str:
    """Say where the top leans to; within U of upright there is no direction."""
    if abs(lean.size.value) <= lean.size.expanded:
        return "upright within U"
    return EIGHTHS[round(lean.heading_rad / (pi / 4)) % 8]


def reach_of(leans: Sequence[Lean], limit: Limit | None) -> float:
    """Choose the outer ring's value so that all roses of a set share one scale."""
    most = [abs(lean.size.value) + lean.size.expanded for lean in leans]
    bound = limit.maximum if limit else None
    widest = 1.1 * max([*most, bound or 0.0, 1e-3])
    step = tick_step(widest, 20)
    return ceil(widest / step) * step


def draw_rose(
    lean: Lean,
    label: str,
    limit: Limit | None,
    reach: float,
    verdict: tuple[Outcome | None, Units],
) -> Figure:
    """Draw one spring's rose; ``reach`` is the outer ring in the lean's own unit."""
    outcome, units = verdict
    text = show_quantity(lean.size, units).text
    marks = [
        *_rings(limit, reach),
        *_needle(lean, reach, outcome),
        *_captions(label, text, outcome),
    ]
    return Figure(
        title=f"Lean of spring {label}",
        description=_description(lean, label, limit, units),
        width=SIZE,
        height=SIZE + 8.0,
        marks=tuple(marks),
    )


def _rings(limit: Limit | None, reach: float) -> list[Mark]:
    x, y = CENTRE
    bound = limit.maximum if limit else None
    marks: list[Mark] = [
        Disc(centre=CENTRE, radius=RADIUS, ink=Ink.EDGE, filled=False),
        line((x - RADIUS, y), (x + RADIUS, y), Ink.EDGE),
        line((x, y - RADIUS), (x, y + RADIUS), Ink.EDGE),
        Word(at=(x, 3.2), text="away", size=2.8, anchor="middle", ink=Ink.QUIET),
        Word(at=(x, 37.0), text="camera", size=2.8, anchor="middle", ink=Ink.QUIET),
    ]
    if bound is not None:
        radius = RADIUS * bound / reach
        marks.append(
            Disc(centre=CENTRE, radius=radius, ink=Ink.DATUM, filled=False, width=FIRM)
        )
    return marks


def _needle(lean: Lean, reach: float, outcome: Outcome | None) -> list[Mark]:
    """Needle to the top's place, U as a bar along it; one view leaves a whole line."""
    size, u = abs(lean.size.value), lean.size.expanded
    tip = _at(size, lean.heading_rad, reach)
    ink = outcome_ink(outcome)
    marks: list[Mark] = [
        line(CENTRE, tip, ink),
        line(
            _at(max(size - u, 0.0), lean.heading_rad, reach),
            _at(size + u, lean.heading_rad, reach),
            ink,
            3 * HAIR,
        ),
        Disc(centre=tip, radius=1.1, ink=ink),
        Disc(centre=CENTRE, radius=0.5, ink=Ink.QUIET),
    ]
    if not lean.whole:
        y = CENTRE[1]
        marks.append(dashes((tip[0], y - RADIUS), (tip[0], y + RADIUS)))
    return marks


def _at(size: float, heading_rad: float, reach: float) -> Point:
    part = RADIUS * size / reach
    x, y = CENTRE
    return x + part * cos(heading_rad), y - part * sin(heading_rad)


def _captions(label: str, text: str, outcome: Outcome | None) -> list[Mark]:
    sign = f"{outcome.sign} " if outcome else ""
    return [
        Word(
            at=(CENTRE[0], 41.5),
            text=f"{sign}{label}",
            anchor="middle",
            ink=outcome_ink(outcome),
            bold=True,
        ),
        Word(at=(CENTRE[0], 46.0), text=text, anchor="middle"),
    ]


def _description(lean: Lean, label: str, limit: Limit | None, units: Units) -> str:
    asked = ""
    if limit is not None and limit.maximum is not None:
        asked = (
            f" The ring is the limit, {show_given(limit.maximum, limit.unit, units)}."
        )
    part = "" if lean.whole else " One view: only the part in the picture plane."
    where = heading_words(lean)
    return (
        f"Spring {label}: {show_quantity(lean.size, units).text}, {where}.{asked}{part}"
    )


def ring_text(limit: Limit | None, reach: float, unit: str, units: Units) -> str:
    """Explain the rings of a row of roses."""
    outer = f"outer ring {show_given(reach, unit, units)}"
    if limit is None or limit.maximum is None:
        return outer
    return (
        f"{outer}, firm ring the limit {show_given(limit.maximum, limit.unit, units)}"
    )
