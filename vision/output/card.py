"""The square card, printed at true size, and the reference file that goes with it.

The card is cut out and folded along its lower line, so that its foot lies on the plate
behind it and its face stands upright. All places are in mm from the page's lower left.
"""

from dataclasses import dataclass

from vision.output.printed import (
    BAR_BREADTH_MM,
    Page,
    Paper,
    begin_page,
    draw_bar,
    draw_line,
    draw_small,
    draw_text,
    fill_box,
    finish_page,
    page_size_mm,
)

QUIET_MM = 15.0  # light card left and right of the square and above it
FOOT_MM = 45.0
EDGE_MM = 20.0  # from the page's left and right edge
TOP_MM = 72.0  # from the page's upper edge to the card, for the text
BELOW_MM = 52.0  # from the page's lower edge to the foot, for bar and entries
BAR_COLUMN_MM = 18.0  # to the right of the card, for the upright bar
CUT = (1.0, 1.5)
FOLD = (6.0, 1.5, 1.0, 1.5)
PRINTED_U_MM = 0.5  # U of a print that nobody has measured: 1 % of the usual side
MEASURED_U_MM = 0.1  # U of a print measured with a shop caliper; common practice
STEPS = (
    (
        "1. Print at 100 % (actual size) on stiff, matt, white card, or glue the print "
        "onto flat card."
    ),
    (
        "2. Measure both bars with a caliper. If one is not 100 mm within 0.5 mm, the "
        "printer scales: print again."
    ),
    (
        "3. Cut along the dotted line, score the folding line, and fold the foot back "
        "to a right angle. Stand the card on the plate with a steel block on its foot, "
        "against its back."
    ),
    (
        "4. Measure the print and enter what was measured, not what was drawn, in the "
        "reference file: side_mm is the mean of width and height, bottom_margin_mm is "
        "the height of the lower edge above the plate, expanded_uncertainty_mm is at "
        "least half the difference of width and height."
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What is to be drawn; the bottom margin counts from the folding line."""

    side_mm: float = 50.0
    bottom_margin_mm: float = 10.0
    paper: Paper = "A4"


def most_side_mm(card: Card) -> float:
    """Tell the largest square that its paper has room for."""
    width, height = page_size_mm(card.paper)
    across = width - 2 * EDGE_MM - 2 * QUIET_MM - BAR_COLUMN_MM
    down = height - TOP_MM - QUIET_MM - card.bottom_margin_mm - FOOT_MM - BELOW_MM
    return min(across, down)


def draw_card(card: Card) -> bytes:
    """Draw the card as a PDF file."""
    page = begin_page(card.paper, "Freestand square card")
    left, top = EDGE_MM, page.height_mm - TOP_MM
    square = (left + QUIET_MM, top - QUIET_MM - card.side_mm)
    fold = square[1] - card.bottom_margin_mm
    right = left + 2 * QUIET_MM + card.side_mm
    draw_text(
        page,
        _instructions(card),
        (left, page.height_mm - 14.0),
        page.width_mm - 2 * EDGE_MM,
    )
    _outline(page, (left, fold - FOOT_MM), (right, top))
    draw_line(page, (left, fold), (right, fold), FOLD)
    fill_box(page, *square, (card.side_mm, card.side_mm))
    draw_small(page, "fold back along this line", left + 3.0, fold - 4.5)
    draw_small(page, "foot: lies on the plate, behind", left + 3.0, fold - 9.0)
    draw_bar(page, page.width_mm - EDGE_MM - BAR_BREADTH_MM, top - 100.0, upright=True)
    draw_bar(page, left, 36.0, upright=False)
    _entries(page, left)
    return finish_page(page)


def _outline(
    page: Page, low_mm: tuple[float, float], high_mm: tuple[float, float]
) -> None:
    (left, bottom), (right, top) = low_mm, high_mm
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
        draw_line(page, start, end, CUT)


def _entries(page: Page, left_mm: float) -> None:
    """Leave room for what was measured on this print."""
    names = (
        "square width            mm",
        "square height            mm",
        "lower edge above plate            mm",
    )
    for name, x in zip(names, (0.0, 52.0, 106.0), strict=True):
        draw_small(page, name, left_mm + x, 20.0)
    draw_line(page, (left_mm, 18.0), (page.width_mm - EDGE_MM, 18.0))
    draw_small(page, "measured on this print, by, on", left_mm, 13.0)


def _instructions(card: Card) -> tuple[str, ...]:
    side, low = f"{card.side_mm:g}", f"{card.bottom_margin_mm:g}"
    drawn = f"Drawn: a square of {side} mm, its lower edge {low} mm above the fold."
    return "Freestand square card", drawn, *STEPS


def reference_text(card: Card) -> str:
    """Write the reference file (TOML) for a print that has not been measured yet."""
    return f"""\
# Square card as drawn. Measure the print and enter what was measured.
kind = "square-card"
side_mm = {card.side_mm!r}  # mean of the square's width and height
bottom_margin_mm = {card.bottom_margin_mm!r}  # its lower edge above the plate
# U (k = 2): {PRINTED_U_MM} for a print that nobody measured; about {MEASURED_U_MM} once
# measured with a caliper, and at least half the difference of width and height.
expanded_uncertainty_mm = {PRINTED_U_MM!r}
# How far the card's face stands nearer to the camera than the springs' axes, and its U.
face_offset_mm = 0.0
face_offset_uncertainty_mm = 1.0
"""
