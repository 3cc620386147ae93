"""The detailed sections of a PDF sheet: sets, leans, loads, springs, origin."""

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table

from vision.output.lettering import paragraph
from vision.output.sheet import words
from vision.output.sheet.parts import (
    Fact,
    LeanPart,
    LoadPart,
    SetPart,
    Sheet,
    SpringPart,
)
from vision.output.sheet.pdf_blocks import (
    SMALL,
    TEXT,
    Badge,
    beside,
    bullets,
    fact_table,
    grid_table,
    heading,
)
from vision.output.sheet.pdf_figure import PlacedFigure

ROSES_A_ROW = 5
ROSE_SCALE = 0.85
SHORT_FACT = 24  # characters that fit beside two others


def set_blocks(parts: tuple[SetPart, ...], width: float) -> list[Flowable]:
    """Hold each set against itself, with ladder and straightedge."""
    story: list[Flowable] = [heading(words.HEADINGS["set"], 0, width)]
    for part in parts:
        story += _set(part, width)
    if not parts:
        story.append(paragraph("No set was compared.", TEXT, width))
    return story


def _set(part: SetPart, width: float) -> list[Flowable]:
    name = heading(part.title, 1, width / 2)
    story: list[Flowable] = [name]
    if part.outcome is not None:
        badge = Badge(part.outcome, f"spread: {part.outcome.text}")
        story = [beside(name, badge, width)]
    story += [Spacer(1, 4), fact_table(part.facts, width, columns=1)]
    story += bullets(part.remarks, width)
    for table in part.loads:
        story += [Spacer(1, 8), *grid_table(table, width)]
    for figure in (part.ladder, part.straightedge):
        if figure is not None:
            scale = min(1.0, width / (figure.width * mm))
            story += [Spacer(1, 8), PlacedFigure(figure, scale)]
    return story


def lean_blocks(parts: tuple[LeanPart, ...], width: float) -> list[Flowable]:
    """Set the roses in rows."""
    none = [paragraph("No lean was measured.", TEXT, width)]
    return _together("lean", [_roses(part, width) for part in parts] or [none], width)


def _roses(part: LeanPart, width: float) -> list[Flowable]:
    roses = [PlacedFigure(rose, ROSE_SCALE) for rose in part.roses]
    roses += [Spacer(1, 1)] * (-len(roses) % ROSES_A_ROW)
    rows = [
        roses[start : start + ROSES_A_ROW]
        for start in range(0, len(roses), ROSES_A_ROW)
    ]
    table = Table(rows, colWidths=[width / ROSES_A_ROW] * ROSES_A_ROW)
    legend = paragraph(part.legend, SMALL, width)
    return [heading(part.title, 1, width), legend, table]


def load_blocks(sheet: Sheet, width: float) -> list[Flowable]:
    """Show the load lines of each kind, then what nested springs press together."""
    none = [paragraph(words.NO_LOADS, TEXT, width)]
    lines = [_lines(part, width) for part in sheet.loads] or [none]
    if sheet.pairs:
        title = heading(words.PAIRS, 1, width)
        lines.append([title, *grid_table(sheet.pairs, width)])
    return _together("loads", lines, width)


def _lines(part: LoadPart, width: float) -> list[Flowable]:
    legend = paragraph(part.legend, SMALL, width)
    figure = PlacedFigure(part.figure)
    return [heading(part.title, 1, width), legend, Spacer(1, 6), figure]


def _together(key: str, blocks: list[list[Flowable]], width: float) -> list[Flowable]:
    """Keep each block on a page, the first one under the section's heading."""
    title = heading(words.HEADINGS[key], 0, width)
    first, *others = blocks
    return [KeepTogether([title, *first]), *(KeepTogether(each) for each in others)]


def spring_blocks(parts: tuple[SpringPart, ...], width: float) -> list[Flowable]:
    """Set spring by spring; a page breaks between springs, not within."""
    none = [paragraph("No spring was found.", TEXT, width)]
    return _together(
        "springs", [_spring(part, width) for part in parts] or [none], width
    )


def _spring(part: SpringPart, width: float) -> list[Flowable]:
    story: list[Flowable] = [
        beside(
            heading(f"Spring {part.label}", 1, width / 2),
            Badge(part.outcome, part.word),
            width,
        )
    ]
    if part.place:
        story.append(paragraph(part.place, SMALL, width))
    duties = (("To do", part.actions), ("Still due", part.due))
    todo = [Fact(label=what, text="; ".join(does), given=True) for what, does in duties]
    story.append(fact_table([fact for fact in todo if fact.text], width, columns=1))
    if part.lines:
        _caption, table = grid_table(part.lines, width)
        story += [Spacer(1, 3), table]
    short = [fact for fact in part.facts if len(fact.text) <= SHORT_FACT]
    long = [fact for fact in part.facts if len(fact.text) > SHORT_FACT]
    story += [Spacer(1, 3), fact_table(short, width, columns=3)]
    story.append(fact_table(long, width, columns=1))
    if part.hint:
        story.append(paragraph(f"{words.HINT}: {part.hint}.", TEXT, width))
    story += [*bullets(part.notes, width), Spacer(1, 8)]
    return story


def origin_blocks(sheet: Sheet, width: float) -> list[Flowable]:
    """Say what the numbers rest on."""
    story: list[Flowable] = [heading(words.HEADINGS["origin"], 0, width)]
    story += [paragraph(text, TEXT, width) for text in words.UNCERTAINTY]
    story += [fact_table(sheet.origin, width, columns=1), Spacer(1, 8)]
    return story + (grid_table(sheet.budget, width) if sheet.budget else [])
