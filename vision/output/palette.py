"""The colours of everything drawn: ink on paper, one coat for each outcome.

Chosen so that text has at least 4.5 : 1 against what it stands on (WCAG 2.2, 1.4.3),
outcomes differ for colour-blind eyes, and their lightness falls in the order of alarm,
so that a black-and-white print still tells them apart; sign and word always go along.
"""

from dataclasses import dataclass

from vision.records.judged import Outcome

Colour = tuple[int, int, int]

PAPER: Colour = (251, 250, 246)
SHADE: Colour = (233, 232, 225)  # bands and cells on the paper
RULE: Colour = (176, 178, 176)  # hairlines
INK: Colour = (20, 26, 34)
FAINT: Colour = (88, 94, 102)  # second-rank text
MEASURE: Colour = (20, 26, 34)  # dimension lines
DATUM: Colour = (0, 92, 62)  # plate line and target
HALO: Colour = (255, 255, 255)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """Colours of an outcome: filled sign, text on it, and lines on a photo."""

    fill: Colour
    text: Colour
    line: Colour


PLAIN = Coat(fill=(255, 255, 255), text=INK, line=(40, 62, 120))
"""For springs that are measured and not judged."""

COATS: dict[Outcome, Coat] = {
    Outcome.ACCEPT: Coat(fill=(0, 104, 158), text=(255, 255, 255), line=(0, 104, 158)),
    Outcome.REJECT: Coat(fill=(142, 8, 14), text=(255, 255, 255), line=(142, 8, 14)),
    Outcome.CHECK_BY_HAND: Coat(fill=(246, 190, 72), text=INK, line=(168, 100, 0)),
    Outcome.STILL_DUE: Coat(fill=(255, 255, 255), text=INK, line=(88, 84, 80)),
}


def coat(outcome: Outcome | None) -> Coat:
    """Find the colours of an outcome; None is a spring that was not judged."""
    return PLAIN if outcome is None else COATS[outcome]


def hexadecimal(colour: Colour) -> str:
    """Write a colour as '#rrggbb'."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def contrast(first: Colour, second: Colour) -> float:
    """Compare two colours: 1 the same, 21 black on white (WCAG 2.2, contrast ratio)."""
    light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: Colour) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2)."""
    red, green, blue = (_linear(level / 255) for level in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(level: float) -> float:
    knee = 0.04045
    return level / 12.92 if level <= knee else ((level + 0.055) / 1.055) ** 2.4
