"""Type for PDF files: embedded fonts, and lines in the order in which they are read."""

from html import escape
from pathlib import Path
from unicodedata import bidirectional

import matplotlib as mpl
from arabic_reshaper import reshape  # type: ignore[import-untyped]
from bidi import get_base_level, get_display  # type: ignore[import-untyped]
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph

from vision.output.plaintext import clean

REGULAR, BOLD, FIXED = "DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono"
RIGHT_TO_LEFT = {"R", "AL", "AN"}  # bidirectional classes, Unicode Standard Annex 9
LINE_MOST = 300  # characters; more never fit on one line
SLACK_PT = 0.5  # rounding of widths between measuring and setting a line


def load_fonts() -> None:
    """Register the typefaces that travel with matplotlib; they are embedded."""
    known = pdfmetrics.getRegisteredFontNames()
    for name in (REGULAR, BOLD, FIXED):
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, _folder() / f"{name}.ttf"))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, REGULAR, BOLD)


def _folder() -> Path:
    return Path(mpl.get_data_path()) / "fonts" / "ttf"


def drawable(text: str, font: str = REGULAR) -> str:
    """Write what the typeface lacks as its code point, so that nothing vanishes."""
    letters = pdfmetrics.getFont(font).face.charToGlyph
    return "".join(
        letter if ord(letter) in letters else f"[U+{ord(letter):04X}]"
        for letter in clean(text)
    )


def shape(text: str, font: str) -> str:
    """Choose joined letter forms; what the typeface lacks becomes code points."""
    return drawable(str(reshape(clean(text))), font)


def paragraph(text: str, style: ParagraphStyle, width: float) -> Paragraph:
    """Set text of any script as a paragraph at most ``width`` points wide."""
    shaped = shape(text, style.fontName)
    if not runs_right_to_left(shaped):
        return Paragraph(escape(shaped), style)
    lines = visual_lines(shaped, style.fontName, style.fontSize, width - SLACK_PT)
    return Paragraph("<br/>".join(escape(line) for line in lines), style)


def runs_right_to_left(text: str) -> bool:
    """Find out whether any letter runs from right to left."""
    return any(bidirectional(letter) in RIGHT_TO_LEFT for letter in text)


def visual_lines(text: str, font: str, size: float, width: float) -> list[str]:
    """Break shaped text in reading order, then put each line in drawing order."""
    lines = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if text_width(joined, font, size) <= width:
            lines[-1] = joined
        else:
            lines += _pieces(word, font, size, width)
    base = "R" if get_base_level(text) else "L"
    return [str(get_display(line, base_dir=base)) for line in lines if line]


def _pieces(word: str, font: str, size: float, width: float) -> list[str]:
    """Cut a word that may be wider than a line."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, font, size) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def one_line(text: str, font: str, size: float, width: float) -> str:
    """Shorten text to one line, in drawing order, with a sign that it goes on."""
    shaped = shape(text[:LINE_MOST], font)
    if text_width(shaped, font, size) > width:
        while shaped and text_width(f"{shaped}…", font, size) > width:
            shaped = shaped[:-1]
        shaped = f"{shaped}…"
    return str(get_display(shaped)) if runs_right_to_left(shaped) else shaped


def text_width(text: str, font: str, size: float) -> float:
    """Measure a line in points."""
    return float(pdfmetrics.stringWidth(text, font, size))
