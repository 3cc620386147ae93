"""Reads filled rectangles back from a PDF page, in mm, with a reader of its own."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from pypdf import PdfReader
from pypdf.generic import ContentStream

MM_PER_PT = 25.4 / 72  # PDF 32000-1:2008, 8.3.2.3: default user space, 1/72 in

FILLS = {b"f", b"f*", b"F"}
OUTLINED = {b"B", b"B*", b"b", b"b*"}
PAINTS = FILLS | {b"n", b"S", b"s"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedBox:
    """A filled rectangle, its lower left corner counted from the page's."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    grey: float


@dataclass
class Pen:
    """What the operators so far have set."""

    matrix: np.ndarray
    grey: float
    saved: list[tuple[np.ndarray, float]]
    path: list[tuple[float, ...]]


def read_boxes(pdf: bytes) -> list[PrintedBox]:
    """Follow the page's operators cm, q, Q, g and re up to each fill."""
    page = PdfReader(BytesIO(pdf)).pages[0]
    stream = ContentStream(page["/Contents"].get_object(), page.pdf)
    pen = Pen(matrix=np.eye(3), grey=0.0, saved=[], path=[])
    boxes = []
    for operands, operator in stream.operations:
        assert operator not in OUTLINED, "an outline widens a rectangle"
        if operator in FILLS:
            boxes += [to_box(box, pen.matrix, pen.grey) for box in pen.path]
        if operator in PAINTS:
            pen.path.clear()
        numbers = [float(each) for each in operands if isinstance(each, int | float)]
        move(pen, operator, numbers)
    return boxes


def move(pen: Pen, operator: bytes, numbers: list[float]) -> None:
    """Change what the operator changes."""
    match operator:
        case b"cm":
            a, b, c, d, e, f = numbers
            pen.matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ pen.matrix
        case b"q":
            pen.saved.append((pen.matrix, pen.grey))
        case b"Q":
            pen.matrix, pen.grey = pen.saved.pop()
        case b"g":
            (pen.grey,) = numbers
        case b"re":
            pen.path.append(tuple(numbers))


def to_box(numbers: tuple[float, ...], matrix: np.ndarray, grey: float) -> PrintedBox:
    x, y, width, height = numbers
    ends = np.array([[x, y, 1], [x + width, y + height, 1]]) @ matrix * MM_PER_PT
    (left, low, _), (right, high, _) = ends
    return PrintedBox(
        x_mm=left, y_mm=low, width_mm=right - left, height_mm=high - low, grey=grey
    )


def page_size_mm(pdf: bytes) -> tuple[float, float]:
    """Read the page box."""
    box = PdfReader(BytesIO(pdf)).pages[0].mediabox
    return float(box.width) * MM_PER_PT, float(box.height) * MM_PER_PT
