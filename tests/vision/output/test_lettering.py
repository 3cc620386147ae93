"""Lines in PDF files: reading order, width, letters that a typeface lacks."""

import pytest

from vision.output.lettering import (
    BOLD,
    REGULAR,
    drawable,
    load_fonts,
    one_line,
    shape,
    text_width,
    visual_lines,
)

HEBREW = "\u05d0\u05d1\u05d2"


@pytest.fixture(autouse=True)
def fonts() -> None:
    load_fonts()


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        (f"job {HEBREW} end", f"job {HEBREW[::-1]} end"),  # rules L2, N2
        (f"job {HEBREW} 12", f"job 12 {HEBREW[::-1]}"),  # rules N1, L2
    ],
)
def test_right_to_left_words_are_turned(text: str, drawn: str) -> None:
    """Unicode Standard Annex 9: runs from right to left are drawn last letter first."""
    assert visual_lines(text, REGULAR, 10.0, 500.0) == [drawn]


def test_lines_break_in_reading_order() -> None:
    """What is read first stands on the first line, also from right to left."""
    text = " ".join([HEBREW] * 3 + ["\u05d3\u05d4\u05d5"] * 3)
    width = text_width(" ".join([HEBREW] * 3), REGULAR, 10.0) + 1.0

    first, second = visual_lines(text, REGULAR, 10.0, width)

    assert HEBREW[::-1] in first
    assert HEBREW[::-1] not in second


def test_no_line_is_wider_than_asked() -> None:
    """A word of 200 letters is cut, none of it lost."""
    word = HEBREW[0] * 200

    lines = visual_lines(word, BOLD, 17.0, 300.0)

    assert all(text_width(line, BOLD, 17.0) <= 300.0 for line in lines)
    assert sum(map(len, lines)) == 200


def test_arabic_letters_are_joined() -> None:
    """Unicode chapter 9.2: beh between two letters takes its medial form, U+FE92."""
    assert shape("\u0628\u0628\u0628", REGULAR) == "\ufe91\ufe92\ufe90"


def test_letters_that_the_typeface_lacks_are_told() -> None:
    """A character without a drawing appears as its code point."""
    assert drawable("a\u6f22b") == "a[U+6F22]b"


def test_one_line_is_shortened_with_a_sign() -> None:
    """Text too long for a line ends in an ellipsis and fits."""
    line = one_line("W" * 200, REGULAR, 7.0, 100.0)

    assert line.endswith("…")
    assert text_width(line, REGULAR, 7.0) <= 100.0
    assert one_line("short", REGULAR, 7.0, 100.0) == "short"
