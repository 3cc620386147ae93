"""Type on the canvas: the DejaVu faces that come with matplotlib's package.

They have the signs that are needed (° ± − ✓ ✗ …) and figures of equal width. The
package is looked up and not imported, which would take longer than the drawing.
"""

import unicodedata
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageDraw, ImageFont

from vision.output.palette import HALO, INK, Colour

FACES = "mpl-data/fonts/ttf"
CUT = "…"
LINE_HEIGHT = 1.22  # of the type size
HALO_SHARE = 0.14  # of the type size


@dataclass(frozen=True, slots=True, kw_only=True)
class Type:
    """How text is set."""

    size_px: float
    bold: bool = False
    colour: Colour = INK

    @property
    def line_px(self) -> float:
        """Distance from line to line."""
        return self.size_px * LINE_HEIGHT


def load_face(style: Type) -> ImageFont.FreeTypeFont:
    """Open the face in its size."""
    name = "DejaVuSans-Bold.ttf" if style.bold else "DejaVuSans.ttf"
    package = find_spec("matplotlib")
    if package is None or package.origin is None:  # pragma: no cover - a dependency
        raise ModuleNotFoundError("matplotlib, which brings the typeface, is missing")
    path = Path(package.origin).parent / FACES / name
    return ImageFont.truetype(path, max(style.size_px, 1.0))


def text_width(text: str, style: Type) -> float:
    """Tell how wide a text comes out."""
    return float(load_face(style).getlength(text))


def write_text(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    style: Type,
    anchor: str = "la",
) -> None:
    """Set one line; ``anchor`` as Pillow has it: 'la' is left and top."""
    draw.text(at, text, fill=style.colour, font=load_face(style), anchor=anchor)


def write_with_halo(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    style: Type,
    anchor: str = "mm",
) -> None:
    """Set one line on a photo, with a light rim that keeps it off any backdrop."""
    draw.text(
        at,
        text,
        fill=style.colour,
        font=load_face(style),
        anchor=anchor,
        stroke_width=round(style.size_px * HALO_SHARE),
        stroke_fill=HALO,
    )


def one_line(text: str) -> str:
    """Make a foreign text safe to draw: no control or direction marks, one line."""
    kept = (
        " " if char.isspace() else char
        for char in text
        if char.isspace() or unicodedata.category(char) not in {"Cc", "Cf", "Cs", "Co"}
    )
    return " ".join("".join(kept).split())


def cut_to(text: str, style: Type, width_px: float) -> str:
    """Shorten a line until it fits, with an ellipsis."""
    if text_width(text, style) <= width_px:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(text[:middle].rstrip() + CUT, style) <= width_px
        low, high = (middle, high) if fits else (low, middle - 1)
    return text[:low].rstrip() + CUT


def fitted(text: str, style: Type, width_px: float) -> Type:
    """Reduce the type until a line fits."""
    width = text_width(text, style)
    if width <= width_px:
        return style
    return replace(style, size_px=style.size_px * width_px / width * 0.99)


def wrap(text: str, style: Type, width_px: float, most: int = 99) -> tuple[str, ...]:
    """Break a text at its spaces into lines that fit; the last may be cut short.

    A no-break space holds its words together.
    """
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, style) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return tuple(cut_to(line, style, width_px) for line in lines)
