"""The printed chessboard is as large as it says and can be found in a photo."""

import cv2
import numpy as np
import pytest

from tests.vision.output.printed_boxes import page_size_mm, read_boxes
from vision.output.chessboard import Chessboard, draw_chessboard, most_pitch_mm

TRUE_MM = 0.001
PX_PER_MM = 4
BOARDS = [
    Chessboard(),
    Chessboard(paper="Letter"),
    Chessboard(columns=6, rows=5, pitch_mm=17.3),
]


@pytest.mark.parametrize("board", BOARDS)
def test_squares_have_the_pitch(board: Chessboard) -> None:
    """Every second square of (columns + 1) x (rows + 1) is dark and of the pitch."""
    squares = [
        box
        for box in read_boxes(draw_chessboard(board))
        if abs(box.width_mm - box.height_mm) < TRUE_MM
    ]

    assert len(squares) == -(-(board.columns + 1) * (board.rows + 1) // 2)
    for square in squares:
        assert square.width_mm == pytest.approx(board.pitch_mm, abs=TRUE_MM)
        steps = (square.x_mm - squares[0].x_mm) / board.pitch_mm
        assert steps == pytest.approx(round(steps), abs=TRUE_MM)


@pytest.mark.parametrize("board", BOARDS)
def test_inner_corners_are_found(board: Chessboard) -> None:
    """A picture of the page shows as many inner corners as the lens file asks for."""
    pdf = draw_chessboard(board)
    width, height = (round(side * PX_PER_MM) for side in page_size_mm(pdf))
    picture = np.full((height, width), 255, np.uint8)
    for box in read_boxes(pdf):
        left, right = (
            round(x * PX_PER_MM) for x in (box.x_mm, box.x_mm + box.width_mm)
        )
        low, high = (
            height - round(y * PX_PER_MM) for y in (box.y_mm, box.y_mm + box.height_mm)
        )
        picture[high:low, left:right] = 0

    found, corners = cv2.findChessboardCornersSB(picture, (board.columns, board.rows))

    assert found
    first, second = corners.reshape(-1, 2)[:2]
    pitch_px = board.pitch_mm * PX_PER_MM
    assert np.hypot(*(second - first)) == pytest.approx(pitch_px, abs=1.0)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_largest_board_lies_on_the_paper(paper: str) -> None:
    """The largest pitch still leaves a printer's margin, and meets no bar."""
    size = "A4" if paper == "A4" else "Letter"
    board = Chessboard(pitch_mm=most_pitch_mm(Chessboard(paper=size)), paper=size)

    pdf = draw_chessboard(board)

    width, height = page_size_mm(pdf)
    boxes = read_boxes(pdf)
    for box in boxes:
        assert 5.0 <= box.x_mm <= box.x_mm + box.width_mm <= width - 5.0
        assert 5.0 <= box.y_mm <= box.y_mm + box.height_mm <= height - 5.0
    squares = [box for box in boxes if abs(box.width_mm - box.height_mm) < TRUE_MM]
    bars = [box for box in boxes if box not in squares]
    right = max(box.x_mm + box.width_mm for box in squares)
    low = min(box.y_mm for box in squares)
    assert sorted(round(max(bar.width_mm, bar.height_mm), 3) for bar in bars) == [
        100.0,
        100.0,
    ]
    for bar in bars:
        assert bar.x_mm > right + 2.0 or bar.y_mm + bar.height_mm < low - 2.0
