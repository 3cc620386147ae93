"""Load lines: force against height, from the free height to closed and open."""

from collections.abc import Sequence
from dataclasses import dataclass

from calib.quantity import Quantity
from vision.output.sheet.amounts import in_unit
from vision.output.sheet.figure import (
    FIRM,
    Disc,
    Figure,
    Mark,
    Point,
    Scale,
    Stroke,
    Word,
    dashes,
    line,
    spread,
    ticks,
)
from vision.output.sheet.ink import Ink
from vision.output.show import Units, unit_text
from vision.records.judged import Instrument, Load, Reading, Requirements

WIDTH, HEIGHT = 112.0, 90.0
LEFT, RIGHT, TOP, BOTTOM = 24.0, 108.0, 7.0, 76.0
WALL_TOP = 52.0  # the wall of the solid height leaves the names free
FORCES = (Instrument.OPEN_FORCE, Instrument.CLOSED_FORCE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """One spring: its measured free height and what the tester read by hand."""

    label: str
    free_height: Quantity | None
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axes:
    """Height to the right, force upward, both stored in mm and N."""

    height: Scale
    force: Scale
    units: Units

    def at(self, height_mm: float, force_n: float) -> Point:
        """Place a point."""
        return self.height.at(height_mm), self.force.at(force_n)


def draw_loads(
    lines: Sequence[LoadLine], asked: Requirements | None, units: Units
) -> Figure | None:
    """Draw the load lines of one kind; nothing without a load asked or read."""
    loads = _loads(asked)
    if not loads and not any(each.readings for each in lines):
        return None
    axes = _axes(lines, loads, units)
    marks: list[Mark] = [*_frame(axes)]
    if asked and asked.solid_height_mm:
        marks += _solid(asked.solid_height_mm, axes)
    for word, load in loads:
        marks += _asked(word, load, axes)
    for each in lines:
        marks += _line(each, axes)
    marks += _labels(lines, axes)
    return Figure(
        title=f"Load lines {asked.kind if asked else ''}".strip(),
        description=_description(lines),
        width=WIDTH,
        height=HEIGHT,
        marks=tuple(marks),
    )


def force_points(line_: LoadLine) -> tuple[Reading, ...]:
    """Tester readings with a height, open before closed."""
    found = (
        reading
        for reading in line_.readings
        if reading.instrument in FORCES and reading.set_height_mm is not None
    )
    return tuple(sorted(found, key=lambda reading: reading.set_height_mm or 0.0))


def _loads(asked: Requirements | None) -> list[tuple[str, Load]]:
    pairs = (("closed", asked.closed), ("open", asked.open)) if asked else ()
    return [(word, load) for word, load in pairs if load is not None]


def _axes(
    lines: Sequence[LoadLine], loads: list[tuple[str, Load]], units: Units
) -> Axes:
    points = [point for each in lines for point in force_points(each)]
    heights = [each.free_height.value for each in lines if each.free_height]
    heights += [load.height_mm for _, load in loads]
    heights += [point.set_height_mm for point in points if point.set_height_mm]
    bounds = [(load.force.minimum, load.force.maximum) for _, load in loads]
    forces = [bound for pair in bounds for bound in pair if bound is not None]
    forces += [point.value + point.expanded_uncertainty for point in points]
    low, high = min(heights), max(heights)
    room = max(high - low, 1.0)
    height = Scale(low=low - 0.4 * room, high=high + 0.1 * room, start=LEFT, end=RIGHT)
    most = 1.15 * max([*forces, 1.0])
    return Axes(
        height=height,
        force=Scale(low=0.0, high=most, start=BOTTOM, end=TOP),
        units=units,
    )


def _frame(axes: Axes) -> list[Mark]:
    """Axes with ticks in the shown unit."""
    units = axes.units
    length, force = unit_text("mm", units), unit_text("N", units)
    along = _shown(axes.height, "mm", units)
    up = _shown(axes.force, "N", units)
    marks: list[Mark] = [
        line((LEFT, BOTTOM), (RIGHT, BOTTOM), Ink.RULE),
        line((LEFT, TOP), (LEFT, BOTTOM), Ink.RULE),
    ]
    for value, text in ticks(along):
        x = along.at(value)
        marks.append(line((x, BOTTOM), (x, BOTTOM + 1.2), Ink.RULE))
        marks.append(Word(at=(x, BOTTOM + 5.0), text=text, anchor="middle"))
    for value, text in ticks(up):
        y = up.at(value)
        marks.append(line((LEFT - 1.2, y), (LEFT, y), Ink.RULE))
        marks.append(Word(at=(LEFT - 2.0, y + 1.1), text=text, anchor="end"))
    marks.append(Word(at=(1.0, TOP - 1.0), text=f"force, {force}", ink=Ink.QUIET))
    marks.append(
        Word(
            at=(RIGHT, BOTTOM + 10.0),
            text=f"height, {length}",
            anchor="end",
            ink=Ink.QUIET,
        )
    )
    return marks


def _shown(scale: Scale, unit: str, units: Units) -> Scale:
    """Give the same stretch of the figure in the unit that is shown."""
    low, high = in_unit(scale.low, unit, units), in_unit(scale.high, unit, units)
    return Scale(low=low, high=high, start=scale.start, end=scale.end)


def _solid(height_mm: float, axes: Axes) -> list[Mark]:
    """Draw the solid height as a hatched wall."""
    x = axes.height.at(height_mm)
    marks: list[Mark] = [line((x, WALL_TOP), (x, BOTTOM), Ink.RULE, FIRM)]
    for number in range(int((BOTTOM - WALL_TOP) / 5)):
        y = WALL_TOP + 5.0 * (number + 1)
        marks.append(line((x, y - 2.0), (x - 2.0, y), Ink.RULE))
    text = Word(at=(x + 1.0, BOTTOM - 2.0), text="solid", size=3.0, ink=Ink.QUIET)
    return [*marks, text]


def _asked(word: str, load: Load, axes: Axes) -> list[Mark]:
    """Draw the force asked at one height as a wide bar between the limits."""
    low = load.force.minimum if load.force.minimum is not None else 0.0
    high = load.force.maximum
    top = axes.force.high if high is None else high
    (x, lower), (_, upper) = (
        axes.at(load.height_mm, low),
        axes.at(load.height_mm, top),
    )
    band = ((x - 2, lower), (x + 2, lower), (x + 2, upper), (x - 2, upper))
    bounds = [y for bound, y in ((load.force.minimum, lower), (high, upper)) if bound]
    return [
        Stroke(points=band, ink=Ink.BAND, closed=True, filled=True),
        dashes((x, TOP), (x, BOTTOM)),
        *(line((x - 2, y), (x + 2, y), Ink.DATUM, FIRM) for y in bounds),
        Word(at=(x, TOP - 1.5), text=word, anchor="middle", ink=Ink.DATUM),
    ]


def _line(each: LoadLine, axes: Axes) -> list[Mark]:
    """Join the measured free height to the hand readings, each with its U."""
    points: list[Point] = []
    marks: list[Mark] = []
    for reading in force_points(each):
        height, u = reading.set_height_mm or 0.0, reading.expanded_uncertainty
        at = axes.at(height, reading.value)
        bar = (axes.at(height, reading.value - u), axes.at(height, reading.value + u))
        marks.append(line(*bar, width=FIRM))
        filled = reading.instrument is Instrument.OPEN_FORCE
        marks.append(Disc(centre=at, radius=1.2, filled=filled, covers=True))
        points.append(at)
    if each.free_height is not None and points:
        points.append(axes.at(each.free_height.value, 0.0))
    if len(points) > 1:
        marks.insert(0, Stroke(points=tuple(points), ink=Ink.QUIET))
    return marks


def _labels(lines: Sequence[LoadLine], axes: Axes) -> list[Mark]:
    """Spring names beside their topmost reading, moved apart where they crowd."""
    ends = []
    for each in lines:
        points = force_points(each)
        if points:
            at = axes.at(points[0].set_height_mm or 0.0, points[0].value)
            ends.append((at[1], at[0], each.label))
    ends.sort()
    places = spread([y for y, _, _ in ends], 4.0)
    marks: list[Mark] = []
    for (y, x, label), place in zip(ends, places, strict=True):
        marks.append(line((x - 1.4, y), (x - 4.0, place), Ink.RULE))
        marks.append(Word(at=(x - 4.6, place + 1.1), text=label, anchor="end"))
    return marks


def _description(lines: Sequence[LoadLine]) -> str:
    read = [each.label for each in lines if force_points(each)]
    if not read:
        return "The loads asked; no tester reading has been entered by hand yet."
    return (
        f"Force against height for springs {', '.join(read)}; empty points are read "
        "by hand at closed height, full points at open height; the numbers are in "
        "the table by place."
    )
