"""Pages that are printed at true size: bars to check the printer with, text, marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Literal

from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from vision.output.lettering import BOLD, REGULAR, load_fonts, paragraph

Paper = Literal["A4", "Letter"]
SIZES = {"A4": A4, "Letter": LETTER}
BAR_MM = 100.0
BAR_BREADTH_MM = 5.0
TEXT_PT = 8.5
TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=TEXT_PT, leading=12.0)
TITLE = ParagraphStyle("title", fontName=BOLD, fontSize=13.0, leading=17.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Page:
    """One page being drawn; places in mm from its lower left corner."""

    canvas: Canvas
    file: BytesIO
    width_mm: float
    height_mm: float


def page_size_mm(paper: Paper, *, turned: bool = False) -> tuple[float, float]:
    """Tell a sheet's width and height, upright or turned to its side."""
    width, height = landscape(SIZES[paper]) if turned else SIZES[paper]
    return width / mm, height / mm


def begin_page(paper: Paper, title: str, *, turned: bool = False) -> Page:
    """Begin a page that asks the printer not to scale it."""
    load_fonts()
    width_mm, height_mm = page_size_mm(paper, turned=turned)
    file = BytesIO()
    size = (width_mm * mm, height_mm * mm)
    canvas = Canvas(file, pagesize=size, invariant=1, lang="en")
    canvas.setTitle(title)
    canvas.setAuthor("Freestand")
    canvas.setViewerPreference("PrintScaling", "None")
    return Page(canvas=canvas, file=file, width_mm=width_mm, height_mm=height_mm)


def finish_page(page: Page) -> bytes:
    """Give the file's bytes."""
    page.canvas.showPage()
    page.canvas.save()
    return page.file.getvalue()


def fill_box(
    page: Page, x_mm: float, y_mm: float, size_mm: tuple[float, float]
) -> None:
    """Fill a black rectangle without an outline, which would widen it."""
    width, height = size_mm
    page.canvas.setFillGray(0)
    page.canvas.rect(x_mm * mm, y_mm * mm, width * mm, height * mm, stroke=0, fill=1)


def draw_bar(page: Page, x_mm: float, y_mm: float, *, upright: bool) -> None:
    """Draw a bar of 100 mm from end to end, to be measured with a caliper."""
    size = (BAR_BREADTH_MM, BAR_MM) if upright else (BAR_MM, BAR_BREADTH_MM)
    fill_box(page, x_mm, y_mm, size)
    canvas = page.canvas
    canvas.saveState()
    canvas.setFont(REGULAR, TEXT_PT)
    if upright:
        canvas.translate((x_mm - 2) * mm, y_mm * mm)
        canvas.rotate(90)
    else:
        canvas.translate(x_mm * mm, (y_mm + BAR_BREADTH_MM + 1.5) * mm)
    canvas.drawString(0, 0, f"{BAR_MM:.0f} mm from end to end")
    canvas.restoreState()


def draw_line(
    page: Page,
    start_mm: tuple[float, float],
    end_mm: tuple[float, float],
    dash_mm: tuple[float, ...] = (),
) -> None:
    """Draw a thin line, dashed where a pattern is given."""
    canvas = page.canvas
    canvas.saveState()
    canvas.setLineWidth(0.2 * mm)
    canvas.setStrokeGray(0.35)
    canvas.setDash([part * mm for part in dash_mm])
    (x1, y1), (x2, y2) = start_mm, end_mm
    canvas.line(x1 * mm, y1 * mm, x2 * mm, y2 * mm)
    canvas.restoreState()


def draw_text(
    page: Page, lines: Sequence[str], at_mm: tuple[float, float], width_mm: float
) -> float:
    """Set a title and paragraphs downward from a point; tell the height used in mm."""
    x, top = at_mm
    used = 0.0
    for number, line in enumerate(lines):
        style = TEXT if number else TITLE
        block = paragraph(line, style, width_mm * mm)
        _, height = block.wrap(width_mm * mm, page.height_mm * mm)
        used += height / mm + (1.0 if number else 1.5)
        block.drawOn(page.canvas, x * mm, (top - used) * mm)
    return used


def draw_small(page: Page, text: str, x_mm: float, y_mm: float) -> None:
    """Set one line of text on its baseline."""
    page.canvas.setFillGray(0)
    page.canvas.setFont(REGULAR, TEXT_PT)
    page.canvas.drawString(x_mm * mm, y_mm * mm, text)
