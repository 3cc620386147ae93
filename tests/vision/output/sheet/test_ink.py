"""The sheet's colours can be read by everybody, in the light and in the dark."""

import pytest

from vision.output.palette import coat, hexadecimal
from vision.output.sheet.ink import Ink, outcome_ink
from vision.records.judged import Outcome

TEXT_LEAST = 4.5  # WCAG 2.2, 1.4.3, text below 18 pt
LINE_LEAST = 3.0  # WCAG 2.2, 1.4.11, graphics that carry meaning
TEXT_INKS = (
    Ink.TEXT,
    Ink.QUIET,
    Ink.DATUM,
    Ink.ACCEPT,
    Ink.REJECT,
    Ink.CHECK,
    Ink.DUE,
)
GROUNDS = (Ink.PAPER, Ink.PANEL, Ink.BAND)


def contrast(first: str, second: str) -> float:
    """WCAG 2.2, definitions of relative luminance and contrast ratio."""
    light, dark = sorted(map(luminance, (first, second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_contrast_of_black_on_white() -> None:
    """WCAG 2.2: the contrast ratio of black on white is 21 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("ink", TEXT_INKS)
def test_text_stands_out_in_both_schemes(ink: Ink, ground: Ink) -> None:
    """Every ink that writes is legible on paper, panel and band."""
    assert contrast(ink.light, ground.light) >= TEXT_LEAST
    assert contrast(ink.dark, ground.dark) >= TEXT_LEAST


@pytest.mark.parametrize("ground", [Ink.PAPER, Ink.PANEL])
def test_rules_stand_out_in_both_schemes(ground: Ink) -> None:
    """Axes and frames are seen on paper and panel."""
    assert contrast(Ink.RULE.light, ground.light) >= LINE_LEAST
    assert contrast(Ink.RULE.dark, ground.dark) >= LINE_LEAST


@pytest.mark.parametrize("outcome", [*Outcome, None])
def test_verdicts_are_legible(outcome: Outcome | None) -> None:
    """A verdict's word stands out from its own coat, whatever the scheme."""
    worn = coat(outcome)

    assert contrast(hexadecimal(worn.text), hexadecimal(worn.fill)) >= TEXT_LEAST


def test_each_outcome_has_an_ink_of_its_own() -> None:
    """No two outcomes share an ink; what was not judged is plain text."""
    inks = [outcome_ink(outcome) for outcome in Outcome]

    assert len(set(inks)) == len(Outcome)
    assert outcome_ink(None) is Ink.TEXT
