"""The straightedge picture: the set in a row, the two tallest at the ends."""

from collections.abc import Mapping

from vision.output.sheet.figure import (
    FIRM,
    HAIR,
    Figure,
    Mark,
    Point,
    Stroke,
    Word,
    line,
)
from vision.output.sheet.ink import Ink
from vision.output.show import Units, show_quantity, unit_text
from vision.records.judged import SetResult, Standing

PITCH = {"mm": 15.0, "in": 18.0}  # inches have more digits
SPRING_WIDTH = 8.0
MARGIN = 8.0
EDGE_TOP = 8.0  # mm from the figure's top to the tallest spring
PLATE = 46.0
DROP = 20.0  # mm on the figure for the largest height difference
TURNS = 5


def draw_straightedge(
    result: SetResult, labels: Mapping[int, str], units: Units
) -> Figure:
    """Draw the row under the straightedge, height differences enlarged."""
    by_position = {standing.position: standing for standing in result.standings}
    row = [by_position[position] for position in result.row_order]
    tallest = max(standing.height.value for standing in row)
    fall = tallest - min(standing.height.value for standing in row)
    factor = DROP / max(fall, 0.05)
    tops = [EDGE_TOP + factor * (tallest - each.height.value) for each in row]
    pitch = PITCH[units]
    columns = [MARGIN + pitch * (number + 0.5) for number in range(len(row))]
    width = 2 * MARGIN + pitch * len(row)
    marks: list[Mark] = [line((MARGIN / 2, PLATE), (width - MARGIN / 2, PLATE))]
    marks += _edge(columns, tops, 0.45 * pitch)
    for standing, x, top in zip(row, columns, tops, strict=True):
        marks += _spring(x, top)
        marks += _gap(x, top, _edge_at(x, columns, tops))
        marks += _names(standing, x, labels[standing.position], units)
    marks.append(_legend(factor, units))
    return Figure(
        title=f"Straightedge over the set {result.kind}".strip(),
        description=_description(row, labels, units),
        width=max(width, 100.0),
        height=PLATE + 25.0,
        marks=tuple(marks),
    )


def _edge_at(x: float, columns: list[float], tops: list[float]) -> float:
    """Find the height of the straightedge's lower side at ``x``."""
    if len(columns) == 1:
        return tops[0]
    share = (x - columns[0]) / (columns[-1] - columns[0])
    return tops[0] + share * (tops[-1] - tops[0])


def _edge(columns: list[float], tops: list[float], over: float) -> list[Mark]:
    start, end = (columns[0] - over, tops[0]), (columns[-1] + over, tops[-1])
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


def _legend(factor: float, units: Units) -> Word:
    unit = unit_text("mm", units)
    text = f"gap under the straightedge, {unit} ± U; differences drawn {factor:.0f}×"
    return Word(at=(MARGIN / 2, PLATE + 20.0), text=text, ink=Ink.QUIET)


def _description(row: list[Standing], labels: Mapping[int, str], units: Units) -> str:
    gaps = [show_quantity(each.straightedge_gap, units).text for each in row]
    names = [labels[each.position] for each in row]
    parts = [f"{name} gap {gap}" for name, gap in zip(names, gaps, strict=True)]
    return f"Left to right under the straightedge: {'; '.join(parts)}."
