"""A chessboard, printed at true size, whose photos give a lens file."""

from dataclasses import dataclass

from vision.output.printed import (
    BAR_BREADTH_MM,
    Paper,
    begin_page,
    draw_bar,
    draw_text,
    fill_box,
    finish_page,
    page_size_mm,
)

MARGIN_MM = 15.0  # light on all sides of the board
BELOW_MM = 52.0
BESIDE_MM = 14.0
STEPS = (
    "Print at 100 % (actual size) and glue it onto something flat.",
    (
        "Measure both bars with a caliper, then the board over many squares; enter the "
        "pitch that was measured, not the one that was drawn."
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chessboard:
    """What is to be drawn: inner corners along a row and a column, and their pitch."""

    columns: int = 9
    rows: int = 6
    pitch_mm: float = 20.0
    paper: Paper = "A4"


def most_pitch_mm(board: Chessboard) -> float:
    """Tell the largest pitch that the paper, turned to its side, has room for."""
    width, height = page_size_mm(board.paper, turned=True)
    across = (width - 2 * MARGIN_MM - BESIDE_MM) / (board.columns + 1)
    down = (height - MARGIN_MM - BELOW_MM) / (board.rows + 1)
    return min(across, down)


def draw_chessboard(board: Chessboard) -> bytes:
    """Draw the board as a PDF file; its upper left square is dark."""
    page = begin_page(board.paper, "Freestand chessboard", turned=True)
    top = page.height_mm - MARGIN_MM
    for row in range(board.rows + 1):
        for column in range(row % 2, board.columns + 1, 2):
            x = MARGIN_MM + column * board.pitch_mm
            y = top - (row + 1) * board.pitch_mm
            fill_box(page, x, y, (board.pitch_mm, board.pitch_mm))
    beside = page.width_mm - MARGIN_MM - BAR_BREADTH_MM
    draw_bar(page, beside, top - 100.0, upright=True)
    below = top - (board.rows + 1) * board.pitch_mm - MARGIN_MM - BAR_BREADTH_MM
    draw_bar(page, MARGIN_MM, below, upright=False)
    text_left = MARGIN_MM + 100.0 + 10.0
    width = page.width_mm - text_left - MARGIN_MM
    draw_text(page, _instructions(board), (text_left, below + 14.0), width)
    return finish_page(page)


def _instructions(board: Chessboard) -> tuple[str, ...]:
    inner = f"{board.columns} × {board.rows} inner corners"
    drawn = f"{inner}, pitch {board.pitch_mm:g} mm as drawn."
    entered = f"--columns {board.columns} --rows {board.rows} --pitch-mm (measured)"
    return "Freestand chessboard", drawn, *STEPS, f"freestand lens {entered}"
