"""The sheet's inks: one table for the page's colours and the figures, light and dark.

Contrast of each against paper and panel is at least 4.5 for text and 3 for lines
(WCAG 2.2, 1.4.3 and 1.4.11); EDGE and BAND carry no meaning of their own.
"""

from enum import Enum

from vision.output import palette
from vision.output.palette import hexadecimal
from vision.records.judged import Outcome


class Ink(Enum):
    """A role of colour: key, light scheme (also print), dark scheme."""

    PAPER = ("paper", hexadecimal(palette.PAPER), "#15191d")
    PANEL = ("panel", "#f1f0ea", "#1d2328")
    BAND = ("band", hexadecimal(palette.SHADE), "#2a3238")
    EDGE = ("edge", "#d2d3cf", "#39434a")
    RULE = ("rule", "#7d8285", "#838c93")
    TEXT = ("text", hexadecimal(palette.INK), "#e9ebe8")
    QUIET = ("quiet", "#4c535b", "#b4bcc2")
    DATUM = ("datum", hexadecimal(palette.DATUM), "#7fd0ac")
    ACCEPT = ("accept", hexadecimal(palette.COATS[Outcome.ACCEPT].line), "#7cc4ef")
    REJECT = ("reject", hexadecimal(palette.COATS[Outcome.REJECT].line), "#ff9c90")
    CHECK = ("check", "#7d4a00", "#f0be55")
    DUE = ("due", hexadecimal(palette.COATS[Outcome.STILL_DUE].line), "#bdbde2")

    def __init__(self, key: str, light: str, dark: str) -> None:
        self.key = key
        self.light = light
        self.dark = dark


OUTCOME_INK = {
    Outcome.ACCEPT: Ink.ACCEPT,
    Outcome.REJECT: Ink.REJECT,
    Outcome.CHECK_BY_HAND: Ink.CHECK,
    Outcome.STILL_DUE: Ink.DUE,
}


def outcome_ink(outcome: Outcome | None) -> Ink:
    """Choose the ink of an outcome; what was not judged is plain text."""
    return Ink.TEXT if outcome is None else OUTCOME_INK[outcome]
