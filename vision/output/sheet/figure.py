"""Figures as lists of marks in mm, y downward, which each format draws for itself."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, log10

from vision.output.sheet.ink import Ink

Point = tuple[float, float]
HAIR = 0.25  # mm, a thin line that still prints
FIRM = 0.5  # mm, a line that carries a value


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A polyline or polygon, in mm."""

    points: tuple[Point, ...]
    ink: Ink = Ink.TEXT
    width: float = HAIR
    dashed: bool = False
    closed: bool = False
    filled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A circle round ``centre``, in mm; an empty one has paper inside if ``covers``."""

    centre: Point
    radius: float
    ink: Ink = Ink.TEXT
    width: float = HAIR
    filled: bool = True
    covers: bool = False
    dashed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A line of text on its baseline; ``anchor`` is start, middle or end."""

    at: Point
    text: str
    size: float = 3.5
    ink: Ink = Ink.TEXT
    anchor: str = "start"
    bold: bool = False


Mark = Stroke | Disc | Word


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing with its title and the sentence that stands for it unseen."""

    title: str
    description: str
    width: float
    height: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A straight map from values to mm on the figure."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place a value; those outside land on the nearer end."""
        part = (value - self.low) / (self.high - self.low)
        return self.start + min(max(part, 0.0), 1.0) * (self.end - self.start)


def scale_over(values: Sequence[float], start: float, end: float) -> Scale:
    """Span the values with a tenth to spare on either side."""
    low, high = min(values), max(values)
    spare = 0.1 * (high - low) or max(abs(high) * 0.01, 0.01)
    return Scale(low=low - spare, high=high + spare, start=start, end=end)


def tick_step(span: float, most: int) -> float:
    """Choose the smallest 1-2-5 step that gives at most ``most`` ticks."""
    rough = span / most
    decade = 10.0 ** floor(log10(rough))
    return next(decade * k for k in (1, 2, 5, 10) if decade * k >= rough * (1 - 1e-9))


def ticks(scale: Scale, most: int = 6) -> tuple[tuple[float, str], ...]:
    """List round values on a scale with their text."""
    step = tick_step(scale.high - scale.low, most)
    decimals = max(0, -floor(log10(step) + 1e-9))
    first = floor(scale.low / step) + 1
    last = floor(scale.high / step)
    return tuple((n * step, f"{n * step:.{decimals}f}") for n in range(first, last + 1))


def line(start: Point, end: Point, ink: Ink = Ink.TEXT, width: float = HAIR) -> Stroke:
    """Draw a straight line."""
    return Stroke(points=(start, end), ink=ink, width=width)


def dashes(start: Point, end: Point, ink: Ink = Ink.RULE) -> Stroke:
    """Draw a thin dashed line."""
    return Stroke(points=(start, end), ink=ink, dashed=True)


def box(corner: Point, size: Point, ink: Ink, *, filled: bool = True) -> Stroke:
    """Draw a rectangle from its upper left corner."""
    (x, y), (w, h) = corner, size
    points = ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
    return Stroke(points=points, ink=ink, closed=True, filled=filled)


def lowered(marks: Sequence[Mark], by: float) -> list[Mark]:
    """Move marks down a figure."""
    return [_lowered(mark, by) for mark in marks]


def _lowered(mark: Mark, by: float) -> Mark:
    match mark:
        case Stroke():
            return replace(mark, points=tuple((x, y + by) for x, y in mark.points))
        case Disc():
            return replace(mark, centre=(mark.centre[0], mark.centre[1] + by))
        case Word():
            return replace(mark, at=(mark.at[0], mark.at[1] + by))


def spread(wanted: Sequence[float], least: float) -> tuple[float, ...]:
    """Move ascending places apart until neighbours are ``least`` from each other."""
    placed: list[float] = []
    for place in wanted:
        placed.append(max(place, placed[-1] + least) if placed else place)
    pushed = sum(placed) - sum(wanted)
    return tuple(place - pushed / len(placed) for place in placed)
