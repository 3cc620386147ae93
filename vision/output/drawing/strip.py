"""Below the photo: each spring close up, its lean enlarged, what was found."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray
from PIL import ImageDraw

from vision.output.drawing.box import Box
from vision.output.drawing.facts import Facts, finding_lines, lean_lines, size_lines
from vision.output.drawing.lean import Lean, common_scale, draw_lean, leans
from vision.output.drawing.lettering import (
    Type,
    fitted,
    one_line,
    wrap,
    write_text,
)
from vision.output.drawing.strokes import Canvas
from vision.output.drawing.window import Window, show_window
from vision.output.palette import FAINT, INK, RULE, SHADE, coat
from vision.output.show import Units
from vision.records.measured import SpringMeasurement

MOST_COLUMNS = 6
WIDEST_CELL_PX = 1040.0
GUTTER_PX = 20.0
PAD_PX = 16.0
HEAD_PX = 62.0
PICTURE_PX = 430.0  # height of crop and lean drawing
CROP_SHARE = 0.5  # of the cell's width, at most
CROP_MARGIN = 0.09  # of the spring's height, round the crop
CAPTION_PX = 72.0  # two lines under a lean drawing
SIDE_BY_SIDE_PX = 420.0  # width from which two lean drawings stand beside each other
HEAD_TYPE = Type(size_px=38, bold=True)
VALUE_TYPE = Type(size_px=27, bold=True, colour=INK)
BODY_TYPE = Type(size_px=27)
SIZE_TYPE = Type(size_px=27, colour=FAINT)
SMALL_TYPE = Type(size_px=22, colour=FAINT)
SIDES = ("from the front, ×10", "from the right, ×10")
NO_BREAK = "\u00a0"
MOST_LINES = 4  # for one finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """One spring's place in the strip, its texts already broken into lines."""

    facts: Facts
    box: Box
    crop: Window
    panels: tuple[Box, ...]
    leans: tuple[Lean, ...]
    findings: tuple[str, ...]
    sizes: tuple[str, ...]


def plan_strip(
    springs: Sequence[Facts],
    size_px: tuple[int, int],
    strip: Box,
    units: Units,
) -> tuple[Cell, ...]:
    """Lay the cells out in as few rows as leave each one readable."""
    if not springs:
        return ()
    rows = ceil(len(springs) / MOST_COLUMNS)
    columns = ceil(len(springs) / rows)
    width = (strip.width - GUTTER_PX * (columns - 1)) / columns
    width = min(width, WIDEST_CELL_PX)
    cells: list[Cell] = []
    top = strip.top
    for start in range(0, len(springs), columns):
        line = [
            _cell(facts, size_px, (strip.left + k * (width + GUTTER_PX), top, width), u)
            for k, (facts, u) in enumerate(
                (facts, units) for facts in springs[start : start + columns]
            )
        ]
        bottom = max(_text_bottom(cell) for cell in line)
        cells += [_ended(cell, bottom) for cell in line]
        top = bottom + GUTTER_PX
    return tuple(cells)


def _cell(
    facts: Facts,
    size_px: tuple[int, int],
    place: tuple[float, float, float],
    units: Units,
) -> Cell:
    left, top, width = place
    box = Box(left=left, top=top, right=left + width, bottom=top)
    crop = _crop(facts, size_px, box)
    inner = width - 2 * PAD_PX
    findings = [
        part
        for line in finding_lines(facts, units)
        for part in wrap(one_line(line), BODY_TYPE, inner, MOST_LINES)
    ]
    sizes = ", ".join(line.replace(" ", NO_BREAK) for line in size_lines(facts, units))
    return Cell(
        facts=facts,
        box=box,
        crop=crop,
        panels=_panels(facts, box, crop),
        leans=leans(facts),
        findings=tuple(findings),
        sizes=wrap(sizes, SIZE_TYPE, inner) if sizes else (),
    )


def _ended(cell: Cell, bottom: float) -> Cell:
    box = cell.box
    full = Box(left=box.left, top=box.top, right=box.right, bottom=bottom)
    return Cell(
        facts=cell.facts,
        box=full,
        crop=cell.crop,
        panels=cell.panels,
        leans=cell.leans,
        findings=cell.findings,
        sizes=cell.sizes,
    )


def _text_bottom(cell: Cell) -> float:
    lines = len(cell.findings) * BODY_TYPE.line_px + len(cell.sizes) * SIZE_TYPE.line_px
    return cell.box.top + HEAD_PX + PICTURE_PX + 3 * PAD_PX + lines


def _crop(facts: Facts, size_px: tuple[int, int], cell: Box) -> Window:
    """Show the spring with a margin, in the height that all crops share."""
    x0, y0, x1, y1 = facts.box_px
    margin = CROP_MARGIN * max(y1 - y0, 1.0)
    left, right = _within(x0 - margin, x1 + margin, size_px[0])
    top, bottom = _within(y0 - margin, y1 + margin, size_px[1])
    scale = min(PICTURE_PX / (bottom - top), CROP_SHARE * (cell.width) / (right - left))
    at_left, at_top = round(cell.left + PAD_PX), round(cell.top + HEAD_PX + PAD_PX)
    return Window(
        left_px=left,
        top_px=top,
        width_px=right - left,
        height_px=bottom - top,
        box=Box(
            left=at_left,
            top=at_top,
            right=at_left + max(1, round((right - left) * scale)),
            bottom=at_top + max(1, round((bottom - top) * scale)),
        ),
    )


def _within(low: float, high: float, size: int) -> tuple[int, int]:
    """Round outward to whole px inside the photo, at least one."""
    start = min(max(0, int(low)), size - 1)
    return start, max(min(size, ceil(high)), start + 1)


def _panels(facts: Facts, cell: Box, crop: Window) -> tuple[Box, ...]:
    """Divide what is left beside the crop among the lean drawings."""
    count = len(leans(facts))
    left, right = crop.box.right + PAD_PX, cell.right - PAD_PX
    top = cell.top + HEAD_PX + PAD_PX
    if count < 2:  # noqa: PLR2004 - one view
        return (Box(left=left, top=top, right=right, bottom=top + PICTURE_PX),) * count
    if right - left >= SIDE_BY_SIDE_PX:
        middle = (left + right) / 2
        return (
            Box(left=left, top=top, right=middle, bottom=top + PICTURE_PX),
            Box(left=middle, top=top, right=right, bottom=top + PICTURE_PX),
        )
    half = top + PICTURE_PX / 2
    return (
        Box(left=left, top=top, right=right, bottom=half),
        Box(left=left, top=half, right=right, bottom=top + PICTURE_PX),
    )


def _sketch(panel: Box) -> Box:
    """Leave the caption's lines free below a lean drawing."""
    return Box(
        left=panel.left,
        top=panel.top,
        right=panel.right,
        bottom=panel.bottom - CAPTION_PX,
    )


def draw_strip(canvas: Canvas, rgb: NDArray[np.generic], cells: Sequence[Cell]) -> None:
    """Draw grounds, crops and lean drawings."""
    every = [lean for cell in cells for lean in cell.leans]
    sketches = [_sketch(panel) for cell in cells for panel in cell.panels]
    scale = min((common_scale(every, panel) for panel in sketches), default=1.0)
    for cell in cells:
        _fill(canvas, cell.box)
        show_window(canvas, rgb, cell.crop)
        for lean, panel in zip(cell.leans, cell.panels, strict=True):
            draw_lean(canvas, _sketch(panel), lean, scale)


def _fill(canvas: Canvas, box: Box) -> None:
    rows = slice(round(box.top), round(box.bottom))
    canvas[rows, round(box.left) : round(box.right)] = SHADE


def write_strip(draw: ImageDraw.ImageDraw, cells: Sequence[Cell]) -> None:
    """Write heads, captions and findings."""
    for cell in cells:
        _write_head(draw, cell)
        _write_captions(draw, cell)
        x, y = cell.box.left + PAD_PX, cell.box.top + HEAD_PX + PICTURE_PX + 2 * PAD_PX
        for line in cell.sizes:
            write_text(draw, (x, y), line, SIZE_TYPE)
            y += SIZE_TYPE.line_px
        for line in cell.findings:
            write_text(draw, (x, y), line, BODY_TYPE)
            y += BODY_TYPE.line_px


def _write_head(draw: ImageDraw.ImageDraw, cell: Cell) -> None:
    """Set number, sign and verdict on the outcome's colour."""
    facts, box = cell.facts, cell.box
    colours = coat(facts.outcome)
    head = Box(left=box.left, top=box.top, right=box.right, bottom=box.top + HEAD_PX)
    draw.rectangle(head.corners, fill=colours.fill, outline=colours.line, width=4)
    verdict = f"{facts.outcome.sign} {facts.outcome.text}" if facts.outcome else ""
    parts = (str(facts.position), verdict, one_line(facts.place)[:12])
    text = "  ".join(part for part in parts if part)
    style = Type(size_px=HEAD_TYPE.size_px, bold=True, colour=colours.text)
    at = (box.left + PAD_PX, box.top + HEAD_PX / 2)
    write_text(draw, at, text, fitted(text, style, box.width - 2 * PAD_PX), "lm")


def _write_captions(draw: ImageDraw.ImageDraw, cell: Cell) -> None:
    """Tell from where each lean is seen, and how much it is."""
    if not isinstance(cell.facts.spring, SpringMeasurement):
        return
    values = lean_lines(cell.facts.spring)
    for side, value, panel in zip(SIDES, values, cell.panels, strict=False):
        x, y = (panel.left + panel.right) / 2, panel.bottom - CAPTION_PX
        room = panel.width - PAD_PX
        value_type = fitted(value or "", VALUE_TYPE, room)
        write_text(draw, (x, y), value or "", value_type, "ma")
        below = (x, y + VALUE_TYPE.line_px + 2)
        write_text(draw, below, side, fitted(side, SMALL_TYPE, room), "ma")
    for panel in cell.panels[1:]:
        if panel.top > cell.panels[0].top:
            draw.line((panel.left, panel.top, panel.right, panel.top), fill=RULE)
