"""The printed card is as large as it says, checked with another PDF reader."""

import tomllib
from io import BytesIO

import pytest
from pypdf import PdfReader

from tests.vision.output.printed_boxes import PrintedBox, page_size_mm, read_boxes
from vision.output.card import (
    FOOT_MM,
    QUIET_MM,
    Card,
    draw_card,
    most_side_mm,
    reference_text,
)

TRUE_MM = 0.001  # rounding of coordinates in the file
CARDS = [
    Card(),
    Card(paper="Letter"),
    Card(side_mm=60.0, bottom_margin_mm=14.5),
    Card(side_mm=25.4, bottom_margin_mm=5.0, paper="Letter"),
]


def square_of(card: Card) -> PrintedBox:
    boxes = read_boxes(draw_card(card))
    (square,) = [box for box in boxes if abs(box.width_mm - box.height_mm) < TRUE_MM]
    return square


def strokes_mm(pdf: bytes) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Read straight lines (m, l, S) of the page; they stand outside transforms."""
    page = PdfReader(BytesIO(pdf)).pages[0]
    lines, start = [], (0.0, 0.0)
    for operands, operator in page.get_contents().operations:
        if operator == b"m":
            start = tuple(float(each) * 25.4 / 72 for each in operands)
        elif operator == b"l":
            end = tuple(float(each) * 25.4 / 72 for each in operands)
            lines.append((start, end))
    return lines


@pytest.mark.parametrize("card", CARDS)
def test_square_has_its_side(card: Card) -> None:
    """Width and height are the side that was chosen, black, without an outline."""
    square = square_of(card)

    assert square.width_mm == pytest.approx(card.side_mm, abs=TRUE_MM)
    assert square.height_mm == pytest.approx(card.side_mm, abs=TRUE_MM)
    assert square.grey == 0.0


@pytest.mark.parametrize("card", CARDS)
def test_lower_edge_stands_above_the_fold(card: Card) -> None:
    """The bottom margin counts from the folding line."""
    square = square_of(card)
    level = [
        start[1]
        for start, end in strokes_mm(draw_card(card))
        if abs(start[1] - end[1]) < TRUE_MM
    ]

    folds = [y for y in level if abs(square.y_mm - y - card.bottom_margin_mm) < TRUE_MM]
    cuts = [y for y in level if y < square.y_mm - card.bottom_margin_mm - 1.0]
    assert len(folds) == 1
    assert max(cuts) == pytest.approx(folds[0] - FOOT_MM, abs=TRUE_MM)


@pytest.mark.parametrize("card", CARDS)
def test_nothing_dark_in_the_quiet_zone(card: Card) -> None:
    """Around the square the card is light: no bar, line or letter."""
    pdf = draw_card(card)
    square = square_of(card)
    left, low = square.x_mm - QUIET_MM + 1.0, square.y_mm - 4.0
    right = square.x_mm + card.side_mm + QUIET_MM - 1.0
    high = square.y_mm + card.side_mm + QUIET_MM - 1.0

    others = [box for box in read_boxes(pdf) if box != square]
    for box in others:
        beside = box.x_mm > right or box.x_mm + box.width_mm < left
        assert beside or box.y_mm > high or box.y_mm + box.height_mm < low
    for start, end in strokes_mm(pdf):
        for x, y in (start, end):
            assert not (left < x < right and low < y < high)


@pytest.mark.parametrize("card", CARDS)
def test_bars_of_100_mm_lie_in_both_directions(card: Card) -> None:
    """One bar across, one up, 100 mm each from end to end."""
    bars = [box for box in read_boxes(draw_card(card)) if box.width_mm != box.height_mm]
    long = sorted(
        (round(bar.width_mm, 3), round(bar.height_mm, 3))
        for bar in bars
        if max(bar.width_mm, bar.height_mm) > 99.0
    )

    assert long == [(5.0, 100.0), (100.0, 5.0)]


@pytest.mark.parametrize(
    ("paper", "size_mm"),
    [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))],  # ISO 216; 8.5 in x 11 in
)
def test_everything_lies_on_the_paper(paper: str, size_mm: tuple[float, float]) -> None:
    """The largest square still leaves a printer's margin of 5 mm everywhere."""
    card = Card(side_mm=80.0, paper="A4" if paper == "A4" else "Letter")
    largest = Card(side_mm=most_side_mm(card), paper=card.paper)

    pdf = draw_card(largest)

    width, height = page_size_mm(pdf)
    assert (width, height) == pytest.approx(size_mm, abs=0.05)
    for box in read_boxes(pdf):
        assert 5.0 <= box.x_mm <= box.x_mm + box.width_mm <= width - 5.0
        assert 5.0 <= box.y_mm <= box.y_mm + box.height_mm <= height - 5.0
    for (x1, y1), (x2, y2) in strokes_mm(pdf):
        assert 5.0 <= min(x1, x2) <= max(x1, x2) <= width - 5.0
        assert 5.0 <= min(y1, y2) <= max(y1, y2) <= height - 5.0


def test_largest_square_meets_no_bar() -> None:
    """Card and bars keep apart at every size that fits."""
    for paper in ("A4", "Letter"):
        card = Card(side_mm=most_side_mm(Card(paper=paper)), paper=paper)
        pdf = draw_card(card)
        square = square_of(card)

        foot = square.y_mm - card.bottom_margin_mm - FOOT_MM
        right = square.x_mm + card.side_mm + QUIET_MM
        across = [box for box in read_boxes(pdf) if box.width_mm > 99.0 > box.height_mm]
        upright = [
            box for box in read_boxes(pdf) if box.height_mm > 99.0 > box.width_mm
        ]
        assert all(bar.y_mm + bar.height_mm < foot for bar in across if bar != square)
        assert all(bar.x_mm > right for bar in upright)


def test_printer_is_asked_not_to_scale() -> None:
    """PDF 32000-1:2008, table 150: PrintScaling None."""
    root = PdfReader(BytesIO(draw_card(Card()))).trailer["/Root"]

    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_says_to_measure_the_print_and_enter_it() -> None:
    """The page tells what was drawn, and that the print is what counts."""
    text = PdfReader(BytesIO(draw_card(Card()))).pages[0].extract_text()

    flat = " ".join(text.split())
    assert "a square of 50 mm, its lower edge 10 mm above the fold" in flat
    assert "enter what was measured, not what was drawn" in flat
    assert "caliper" in flat


def test_reference_file_matches_the_drawing() -> None:
    """The file beside the card names kind, sizes and a cautious U."""
    given = tomllib.loads(reference_text(Card(side_mm=60.0, bottom_margin_mm=14.5)))

    assert given == {
        "kind": "square-card",
        "side_mm": 60.0,
        "bottom_margin_mm": 14.5,
        "expanded_uncertainty_mm": 0.5,
        "face_offset_mm": 0.0,
        "face_offset_uncertainty_mm": 1.0,
    }
