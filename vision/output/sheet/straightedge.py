"""The straightedge picture: the set in a row, the two tallest at the ends."""

from collections.abc import Mapping
from dataclasses import dataclass

from vision.output.sheet.figure import (
    FIRM,
    HAIR,
    Figure,
    Mark,
    Point,
    Stroke,
    Word,
    line,
    lowered,
)
from vision.output.sheet.ink import Ink
from vision.output.show import Units, show_quantity, unit_text
from vision.records.judged import SetResult, Standing

PITCH = {"mm": 15.0, "in": 18.0}  # inches have more digits
STRIP = {"mm": 11, "in": 9}  # springs abreast on a page; longer rows go on below
STRIP_HEIGHT = 64.0
SPRING_WIDTH = 8.0
MARGIN = 5.0
EDGE_TOP = 8.0  # mm from a strip's top to the tallest spring
PLATE = 46.0
DROP = 20.0  # mm on the figure for the largest height difference
TURNS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One spring of the row: where it stands, its top, and the straightedge above."""

    standing: Standing
    x: float
    top: float
    edge: float


def draw_straightedge(
    result: SetResult, labels: Mapping[int, str], units: Units
) -> Figure:
    """Draw the row under the straightedge, height differences enlarged."""
    by_position = {standing.position: standing for standing in result.standings}
    row = [by_position[position] for position in result.row_order]
    factor = _enlargement(row)
    columns = _columns(row, factor, units)
    abreast, pitch = STRIP[units], PITCH[units]
    strips = [columns[at : at + abreast] for at in range(0, len(columns), abreast)]
    marks: list[Mark] = []
    for number, strip in enumerate(strips):
        drawn = [mark for column in strip for mark in _column(column, labels, units)]
        plate = (strip[0].x - pitch / 2, strip[-1].x + pitch / 2)
        base = line((plate[0], PLATE), (plate[1], PLATE))
        marks += lowered([base, *_edge(strip, pitch), *drawn], number * STRIP_HEIGHT)
    height = STRIP_HEIGHT * len(strips)
    marks.append(_legend(factor, height, units))
    return Figure(
        title=f"Straightedge over the set {result.kind}".strip(),
        description=_description(row, labels, units),
        width=max(2 * MARGIN + pitch * min(len(row), abreast), 105.0),
        height=height + 7.0,
        marks=tuple(marks),
    )


def _enlargement(row: list[Standing]) -> float:
    heights = [standing.height.value for standing in row]
    return DROP / max(max(heights) - min(heights), 0.05)


def _columns(row: list[Standing], factor: float, units: Units) -> list[Column]:
    """Place the springs; the straightedge rests on the first and the last."""
    tallest = max(standing.height.value for standing in row)
    tops = [EDGE_TOP + factor * (tallest - each.height.value) for each in row]
    fall = (tops[-1] - tops[0]) / max(len(row) - 1, 1)
    return [
        Column(
            standing=standing,
            x=MARGIN + PITCH[units] * (number % STRIP[units] + 0.5),
            top=top,
            edge=tops[0] + fall * number,
        )
        for number, (standing, top) in enumerate(zip(row, tops, strict=True))
    ]


def _column(column: Column, labels: Mapping[int, str], units: Units) -> list[Mark]:
    label = labels[column.standing.position]
    return [
        *_spring(column.x, column.top),
        *_gap(column.x, column.top, column.edge),
        *_names(column.standing, column.x, label, units),
    ]


def _edge(strip: list[Column], pitch: float) -> list[Mark]:
    """Draw the straightedge over one strip, a little beyond its ends."""
    first, last = strip[0], strip[-1]
    start = (first.x - 0.45 * pitch, first.edge)
    end = (last.x + 0.45 * pitch, last.edge)
    points: tuple[Point, ...] = (
        start,
        end,
        (end[0], end[1] - 3.0),
        (start[0], start[1] - 3.0),
    )
    return [
        Stroke(points=points, ink=Ink.BAND, closed=True, filled=True),
        Stroke(points=points, ink=Ink.DATUM, width=FIRM, closed=True),
    ]


def _spring(x: float, top: float) -> list[Mark]:
    """Draw a standing spring: two ground ends and slanting wire."""
    left, right = x - SPRING_WIDTH / 2, x + SPRING_WIDTH / 2
    rise = (PLATE - top) / (TURNS + 0.5)
    wire: list[Point] = [(left, top)]
    for turn in range(TURNS):
        wire.append((right, top + rise * (turn + 0.5)))
        wire.append((left, top + rise * (turn + 1.0)))
    wire.append((right, PLATE))
    return [
        Stroke(points=tuple(wire), ink=Ink.QUIET, width=FIRM),
        line((left, top), (right, top), width=2 * HAIR),
        line((left, PLATE), (right, PLATE), width=2 * HAIR),
    ]


def _gap(x: float, top: float, edge: float) -> list[Mark]:
    """Draw the gap as a firm upright between spring and straightedge."""
    if top - edge < 2 * HAIR:
        return []
    return [
        line((x, edge), (x, top), Ink.REJECT, FIRM),
        line((x - 1.0, edge), (x + 1.0, edge), Ink.REJECT),
        line((x - 1.0, top), (x + 1.0, top), Ink.REJECT),
    ]


def _names(standing: Standing, x: float, label: str, units: Units) -> list[Mark]:
    gap = show_quantity(standing.straightedge_gap, units)
    touches = standing.straightedge_gap.u == 0
    return [
        Word(at=(x, PLATE + 4.5), text=label, anchor="middle", size=3.2, bold=True),
        Word(
            at=(x, PLATE + 9.0),
            text="touches" if touches else gap.value,
            anchor="middle",
            size=3.2,
        ),
        Word(
            at=(x, PLATE + 13.0),
            text=f"± {gap.uncertainty}" if gap.uncertainty else "",
            anchor="middle",
            size=3.2,
            ink=Ink.QUIET,
        ),
    ]


def _legend(factor: float, height: float, units: Units) -> Word:
    unit = unit_text("mm", units)
    text = f"gap under the straightedge, {unit} ± U; differences drawn {factor:.0f}×"
    return Word(at=(MARGIN / 2, height + 2.0), text=text, ink=Ink.QUIET)


def _description(row: list[Standing], labels: Mapping[int, str], units: Units) -> str:
    gaps = [show_quantity(each.straightedge_gap, units).text for each in row]
    names = [labels[each.position] for each in row]
    parts = [f"{name} gap {gap}" for name, gap in zip(names, gaps, strict=True)]
    return f"Left to right under the straightedge: {'; '.join(parts)}."
