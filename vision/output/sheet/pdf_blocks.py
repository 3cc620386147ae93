"""The sheet's blocks for a PDF page: headings, facts, tables, verdicts, lists."""

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from vision.output.lettering import (
    BOLD,
    FIXED,
    REGULAR,
    paragraph,
    text_width,
)
from vision.output.palette import Colour, coat
from vision.output.plaintext import clean
from vision.output.sheet.ink import Ink
from vision.output.sheet.parts import Cell, Fact, Grid
from vision.records.judged import Outcome

TEXT_PT = 8.2
DENSE_PT = 7.2
PAD_PT = 4.0
HEAD_ROWS = 1
OUTLINE_MOST = 80  # characters of a heading in the file's outline
FLOWING: dict[str, Any] = {"hAlign": "LEFT", "splitInRow": 1}
"""Tables whose rows may go on on the next page when they are taller than it."""


def text_style(name: str, **changes: Any) -> ParagraphStyle:
    """Make a style from the running text's."""
    plain = {
        "fontName": REGULAR,
        "fontSize": TEXT_PT,
        "leading": 1.35 * changes.get("fontSize", TEXT_PT),
        "textColor": HexColor(Ink.TEXT.light),
    }
    return ParagraphStyle(name, **{**plain, **changes})


TEXT = text_style("text", spaceAfter=4)
STRONG = text_style("strong", fontName=BOLD)
SMALL = text_style("small", fontSize=7.2, textColor=HexColor(Ink.QUIET.light))
CODE = text_style("code", fontName=FIXED, fontSize=6.8)
LEAD = text_style("lead", fontName=BOLD, fontSize=11.5, spaceAfter=6)
TITLE = text_style("title", fontName=BOLD, fontSize=17)
SECTION = text_style(
    "section", fontName=BOLD, fontSize=12, spaceBefore=16, spaceAfter=6
)
PART = text_style("part", fontName=BOLD, fontSize=9.5, spaceBefore=8, spaceAfter=4)
HEADINGS = {0: SECTION, 1: PART}


class Heading(Paragraph):  # type: ignore[misc]
    """A heading that is also an entry of the file's outline."""

    def __init__(self, source: Paragraph, label: str, level: int) -> None:
        super().__init__(source.text, source.style)
        self.label = label
        self.level = level
        self.keepWithNext = 1

    def draw(self) -> None:
        """Set the heading and mark its place; a section has a rule above."""
        key = f"{self.level}-{self.canv.getPageNumber()}-{self.label}"
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(self.label, key, level=self.level, closed=self.level)
        if self.level == 0:
            self.canv.setLineWidth(1.2)
            self.canv.setStrokeColor(HexColor(Ink.TEXT.light))
            self.canv.line(0, self.height + 4, self.width, self.height + 4)
        super().draw()


class Badge(Flowable):  # type: ignore[misc]
    """A verdict: sign and word on the outcome's coat."""

    def __init__(
        self, outcome: Outcome | None, word: str, size: float = TEXT_PT
    ) -> None:
        super().__init__()
        self.size = size
        self.coat = coat(outcome)
        self.text = f"{outcome.sign if outcome else '–'} {word}"
        self.hAlign = "LEFT"

    def wrap(self, *_available: float) -> tuple[float, float]:
        """Tell the size in points."""
        return text_width(self.text, BOLD, self.size) + 2 * PAD_PT, self.size + PAD_PT

    def draw(self) -> None:
        """Draw the box and the text."""
        width, height = self.wrap()
        self.canv.setStrokeColor(HexColor(Ink.TEXT.light))
        self.canv.setFillColor(_colour(self.coat.fill))
        self.canv.setLineWidth(0.7)
        self.canv.rect(0, 0, width, height, fill=1)
        self.canv.setFillColor(_colour(self.coat.text))
        self.canv.setFont(BOLD, self.size)
        self.canv.drawString(PAD_PT, 0.28 * height, self.text)


def _colour(colour: Colour) -> Color:
    return Color(*(part / 255 for part in colour))


def heading(text: str, level: int, width: float) -> Heading:
    """Set a heading of any script."""
    style = HEADINGS[level]
    return Heading(paragraph(text, style, width), clean(text)[:OUTLINE_MOST], level)


def bullets(items: Sequence[str], width: float) -> list[Flowable]:
    """Set a list."""
    gap = 9.0
    rows = [
        [Paragraph("•", TEXT), paragraph(item, TEXT, width - gap)] for item in items
    ]
    if not rows:
        return []
    table = Table(rows, colWidths=[gap, width - gap], **FLOWING)
    table.setStyle(TableStyle([*_padding(0, 1), ("VALIGN", (0, 0), (-1, -1), "TOP")]))
    return [table]


LABEL_SHARES = {1: 0.2, 2: 0.36, 3: 0.48}  # of a column, by how many stand abreast


def fact_table(facts: Sequence[Fact], width: float, columns: int = 2) -> Flowable:
    """Set labelled lines side by side in columns."""
    if not facts:
        return Spacer(0, 0)
    label_share = LABEL_SHARES[columns]
    column = width / columns
    label_width, text_width_ = column * label_share, column * (1 - label_share)
    cells = [
        [
            paragraph(fact.label, SMALL, label_width - PAD_PT),
            paragraph(fact.text, CODE if fact.code else TEXT, text_width_ - PAD_PT),
        ]
        for fact in facts
    ]
    while len(cells) % columns:
        cells.append(["", ""])
    rows = [
        [entry for cell in cells[start : start + columns] for entry in cell]
        for start in range(0, len(cells), columns)
    ]
    table = Table(rows, colWidths=[label_width, text_width_] * columns, **FLOWING)
    table.setStyle(TableStyle([*_padding(0, 1.5), *_rules(first=0)]))
    return table


def grid_table(grid: Grid, width: float, size: float = TEXT_PT) -> list[Flowable]:
    """Set a table with its caption; its head is repeated on the next page."""
    text = text_style("cell", fontSize=size)
    strong = text_style("strong cell", fontSize=size, fontName=BOLD)
    total = sum(grid.shares)
    widths = [width * share / total for share in grid.shares]
    head = [
        paragraph(name, strong, room - PAD_PT)
        for name, room in zip(grid.columns, widths, strict=True)
    ]
    body = [
        [
            _cell(cell, room - PAD_PT, text if number else strong)
            for number, (cell, room) in enumerate(zip(row, widths, strict=True))
        ]
        for row in grid.rows
    ]
    table = Table([head, *body], colWidths=widths, repeatRows=HEAD_ROWS, **FLOWING)
    table.setStyle(TableStyle([*_padding(0, 2), *_rules(first=HEAD_ROWS)]))
    caption = paragraph(grid.caption, SMALL, width)
    caption.keepWithNext = 1
    return [caption, table]


def _cell(cell: Cell, width: float, style: ParagraphStyle) -> list[Flowable]:
    main: Flowable = paragraph(_unbroken(cell), style, width)
    if cell.outcome is not None:
        main = Badge(cell.outcome, cell.text, style.fontSize - 0.3)
    below = [paragraph("by hand", SMALL, width)] if cell.by_hand else []
    if cell.below:
        below.append(paragraph(cell.below, SMALL, width))
    return [main, *below]


def _unbroken(cell: Cell) -> str:
    """Let a number break before its U only."""
    return cell.text.replace("± ", "±\u00a0") if cell.number else cell.text


def beside(title: Flowable, badge: Flowable, width: float) -> Table:
    """Set a verdict at the right end of a heading's line under a rule."""
    table = Table([[title, badge]], colWidths=[width * 0.72, width * 0.28])
    rule = ("LINEABOVE", (0, 0), (-1, 0), 0.9, HexColor(Ink.TEXT.light))
    table.setStyle(TableStyle([*_padding(0, 3), rule]))
    table.keepWithNext = 1
    return table


def _padding(side: float, end: float) -> list[tuple[Any, ...]]:
    everywhere = ((0, 0), (-1, -1))
    return [
        ("LEFTPADDING", *everywhere, side),
        ("RIGHTPADDING", *everywhere, PAD_PT if side == 0 else side),
        ("TOPPADDING", *everywhere, end),
        ("BOTTOMPADDING", *everywhere, end),
        ("VALIGN", *everywhere, "TOP"),
    ]


def _rules(first: int) -> list[tuple[Any, ...]]:
    """Draw a hairline above each row and a firm one under a head."""
    edge, text = HexColor(Ink.EDGE.light), HexColor(Ink.TEXT.light)
    rules: list[tuple[Any, ...]] = [("LINEABOVE", (0, first), (-1, -1), 0.5, edge)]
    if first:
        rules.append(("LINEBELOW", (0, first - 1), (-1, first - 1), 0.9, text))
    return rules
