"""The general sections of a PDF sheet: what it is about and what came out."""

from dataclasses import replace
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import (
    Flowable,
    Image,
    KeepTogether,
    Spacer,
    Table,
    TableStyle,
)

from vision.output.lettering import paragraph
from vision.output.sheet import words
from vision.output.sheet.ink import Ink
from vision.output.sheet.naming import springs_text
from vision.output.sheet.parts import Sheet, Tally
from vision.output.sheet.pdf_blocks import (
    DENSE_PT,
    LEAD,
    PART,
    SMALL,
    STRONG,
    TEXT,
    TITLE,
    Badge,
    bullets,
    fact_table,
    grid_table,
    heading,
)

FRAMED_MOST = 250  # characters of a text in the frame round the job
PICTURE_MOST = 205 * mm  # height that leaves room for the heading on its page


def title_block(sheet: Sheet, width: float) -> list[Flowable]:
    """Set the job in a frame."""
    inner = width - 20.0
    facts = [replace(fact, text=_fitting(fact.text)) for fact in sheet.job[1:]]
    content = [
        paragraph("Freestand inspection sheet", SMALL, inner),
        paragraph(_fitting(sheet.job[0].text), TITLE, inner),
        Spacer(1, 5),
        fact_table(facts, inner, columns=2),
    ]
    frame = [
        ("BOX", (0, 0), (-1, -1), 1.2, HexColor(Ink.TEXT.light)),
        ("LEFTPADDING", (0, 0), (-1, -1), 10),
        ("RIGHTPADDING", (0, 0), (-1, -1), 10),
        ("TOPPADDING", (0, 0), (-1, -1), 7),
    ]
    table = Table(
        [[content]], colWidths=[width], hAlign="LEFT", style=TableStyle(frame)
    )
    return [table]


def _fitting(text: str) -> str:
    """Cut what would make the frame taller than a page."""
    if len(text) <= FRAMED_MOST:
        return text
    return f"{text[:FRAMED_MOST]}… (whole in the HTML sheet)"


def result(sheet: Sheet, width: float) -> list[Flowable]:
    """Say first what came out, then what to doubt."""
    title = heading(words.HEADINGS["result"], 0, width)
    story: list[Flowable] = [title, paragraph(sheet.headline, LEAD, width)]
    rows = [_tally(tally, width) for tally in sheet.tallies]
    widths = [34 * mm, 10 * mm, width - 44 * mm]
    pads = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    if rows:
        table = Table(rows, colWidths=widths, hAlign="LEFT", style=TableStyle(pads))
        story.append(table)
    notes = (
        ("Doubts about the specification", sheet.doubts),
        ("Warnings", sheet.warnings),
    )
    for name, items in notes:
        if items:
            story += [heading(name, 1, width), *bullets(items, width)]
    return story


def _tally(tally: Tally, width: float) -> list[Flowable]:
    return [
        Badge(tally.outcome, tally.word),
        paragraph(str(len(tally.positions)), STRONG, width),
        paragraph(springs_text(tally.positions), TEXT, width - 44 * mm),
    ]


def cautions(width: float) -> Flowable:
    """Set the cautions on a panel."""
    inner = width - 22.0
    title = paragraph(words.HEADINGS["cautions"], PART, inner)
    content = [title, *bullets(words.CAUTIONS, inner)]
    style = [
        ("BACKGROUND", (0, 0), (-1, -1), HexColor(Ink.PANEL.light)),
        ("LINEBEFORE", (0, 0), (0, -1), 4, HexColor(Ink.TEXT.light)),
        ("LEFTPADDING", (0, 0), (-1, -1), 12),
        ("RIGHTPADDING", (0, 0), (-1, -1), 10),
    ]
    table = Table(
        [[content]], colWidths=[width], hAlign="LEFT", style=TableStyle(style)
    )
    return KeepTogether([Spacer(1, 10), table])


def row(sheet: Sheet, overlay_jpeg: bytes | None, width: float) -> list[Flowable]:
    """Show the row's picture and what to do better next time."""
    title = heading(words.HEADINGS["row"], 0, width)
    if overlay_jpeg is None:
        text = "No picture goes with this sheet."
        story: list[Flowable] = [title, paragraph(text, TEXT, width)]
    else:
        story = [KeepTogether([title, _picture(overlay_jpeg, width)])]
    if sheet.advice:
        story += [
            heading("For the next photo", 1, width),
            *bullets(sheet.advice, width),
        ]
    return story


def places(sheet: Sheet, width: float) -> list[Flowable]:
    """Tabulate the springs by place, and what was read by hand."""
    story: list[Flowable] = [heading(words.HEADINGS["places"], 0, width)]
    story += grid_table(sheet.by_place, width, DENSE_PT)
    if sheet.readings:
        story += [Spacer(1, 8), *grid_table(sheet.readings, width)]
    return story


def _picture(overlay_jpeg: bytes, width: float) -> Image:
    across, down = ImageReader(BytesIO(overlay_jpeg)).getSize()
    scale = min(width / across, PICTURE_MOST / down)
    return Image(
        BytesIO(overlay_jpeg), width=across * scale, height=down * scale, hAlign="LEFT"
    )


def signatures(width: float) -> Flowable:
    """Leave room for names, dates and signatures."""
    fields = ("name", "date", "signature")
    widths = [0.2 * width, 0.28 * width, 0.14 * width, 0.38 * width]
    rows = [
        [paragraph(signer, TEXT, widths[0])]
        + [
            paragraph(field, SMALL, room)
            for field, room in zip(fields, widths[1:], strict=True)
        ]
        for signer in words.SIGNERS
    ]
    line = [
        ("LINEABOVE", (1, 0), (-1, -1), 0.7, HexColor(Ink.TEXT.light)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ]
    table = Table(
        rows,
        colWidths=widths,
        rowHeights=[34] * 3,
        hAlign="LEFT",
        style=TableStyle(line),
    )
    title = heading(words.HEADINGS["signatures"], 0, width)
    return KeepTogether([title, Spacer(1, 26), table])
