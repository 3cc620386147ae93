"""A figure drawn into a PDF page, in the light scheme's inks."""

from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from vision.output.lettering import BOLD, REGULAR, one_line, text_width
from vision.output.sheet.figure import Disc, Figure, Mark, Stroke, Word
from vision.output.sheet.ink import Ink

DASHES_PT = (4.0, 3.4)


class PlacedFigure(Flowable):  # type: ignore[misc]
    """A figure in the flow of a page; ``scale`` 1 draws its mm as mm."""

    def __init__(self, figure: Figure, scale: float = 1.0) -> None:
        super().__init__()
        self.figure = figure
        self.scale = scale
        self.hAlign = "LEFT"

    def wrap(self, *_available: float) -> tuple[float, float]:
        """Tell the size in points."""
        unit = mm * self.scale
        return self.figure.width * unit, self.figure.height * unit

    def draw(self) -> None:
        """Draw the marks; y runs down in a figure and up on a page."""
        canvas = self.canv
        canvas.scale(mm * self.scale, -mm * self.scale)
        canvas.translate(0, -self.figure.height)
        for mark in self.figure.marks:
            _draw(mark, canvas)


def _draw(mark: Mark, canvas: Any) -> None:
    canvas.saveState()
    canvas.setStrokeColor(HexColor(mark.ink.light))
    canvas.setFillColor(HexColor(mark.ink.light))
    match mark:
        case Stroke():
            _stroke(mark, canvas)
        case Disc():
            _disc(mark, canvas)
        case Word():
            _word(mark, canvas)
    canvas.restoreState()


def _stroke(mark: Stroke, canvas: Any) -> None:
    _line_style(mark, canvas)
    path = canvas.beginPath()
    path.moveTo(*mark.points[0])
    for point in mark.points[1:]:
        path.lineTo(*point)
    if mark.closed:
        path.close()
    canvas.drawPath(path, stroke=int(not mark.filled), fill=int(mark.filled))


def _disc(mark: Disc, canvas: Any) -> None:
    _line_style(mark, canvas)
    if mark.covers and not mark.filled:
        canvas.setFillColor(HexColor(Ink.PAPER.light))
    x, y = mark.centre
    covered = mark.filled or mark.covers
    canvas.circle(x, y, mark.radius, stroke=int(not mark.filled), fill=int(covered))


def _line_style(mark: Stroke | Disc, canvas: Any) -> None:
    canvas.setLineWidth(mark.width)
    if mark.dashed:
        canvas.setDash([part / mm for part in DASHES_PT])


def _word(mark: Word, canvas: Any) -> None:
    font = BOLD if mark.bold else REGULAR
    text = one_line(mark.text, font, mark.size, 1e6)
    x, y = mark.at
    back = {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor]
    canvas.translate(x - back * text_width(text, font, mark.size), y)
    canvas.scale(1, -1)
    canvas.setFont(font, mark.size)
    canvas.drawString(0, 0, text)
