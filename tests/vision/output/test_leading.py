"""Sentences lead with the chosen units; what is kept stays as it is."""

from dataclasses import replace

import pytest

from tests.factories import make_inspection
from vision.output.data import to_json
from vision.output.leading import lead, lead_inspection
from vision.output.table import to_text


@pytest.mark.parametrize(
    ("kept", "shown"),
    [
        (
            "45.90 ± 0.08 mm (1.8069 ± 0.0029 in) by photo",
            "1.8069 ± 0.0029 in (45.90 ± 0.08 mm) by photo",
        ),
        (
            "asked 47.10 to 48.30 mm (1.8543 to 1.9016 in): missed",
            "asked 1.8543 to 1.9016 in (47.10 to 48.30 mm): missed",
        ),
        (
            "291.0 N (65.4 lbf) with 33.8 ± 0.9 N/mm (193 ± 6 lbf/in)",
            "65.4 lbf (291.0 N) with 193 ± 6 lbf/in (33.8 ± 0.9 N/mm)",
        ),
        ("the lens is 94 mm above", "the lens is 3.7 in (94 mm) above"),
        (
            "U falls from 0.30 to 0.10 mm",
            "U falls from 0.012 to 0.0039 in (0.30 to 0.10 mm)",
        ),
        ("8.4 px per mm, 2.1° and 7.0 coils", "8.4 px per mm, 2.1° and 7.0 coils"),
        (
            "practice is 2 mm, 40 to 2500 N",
            "practice is 0.079 in (2 mm), 9.0 to 562 lbf (40 to 2500 N)",
        ),
        (
            "47.80 mm, the file says 49.0 mm",
            "1.882 in (47.80 mm), the file says 1.93 in (49.0 mm)",
        ),
        ("a rate of 0 N/mm over 0 mm", "a rate of 0 N/mm over 0.0 in (0 mm)"),
        ("given as nominal", "given as nominal"),
    ],
)
def test_inches_lead(kept: str, shown: str) -> None:
    """Each figure in two units is turned round; one in mm alone gets its inches."""
    assert lead(kept, "in") == shown
    assert lead(kept, "mm") == kept


def test_every_sentence_of_an_inspection_is_turned() -> None:
    """Lines, advice and doubts read in inches; the JSON stays as it was kept."""
    inspection = make_inspection()
    said = "47.10 mm (1.8543 in)"
    verdict = inspection.verdicts[0]
    line = replace(verdict.decisions[0], why=said, action=said)
    spoken = replace(
        inspection,
        verdicts=(replace(verdict, decisions=(line,), actions=(said,)),),
        sets=(replace(inspection.sets[0], remarks=(said,)),),
        row=replace(inspection.row, warnings=(said,), advice=(said,)),
    )

    led = lead_inspection(spoken, "in")

    turned = "1.8543 in (47.10 mm)"
    (first,) = led.verdicts
    assert (first.decisions[0].why, first.decisions[0].action) == (turned, turned)
    assert first.actions == led.sets[0].remarks == (turned,)
    assert led.row.warnings == led.row.advice == (turned,)
    assert turned in to_text(spoken, "in")
    assert said in to_json(spoken)


def test_a_persons_own_words_stay_as_they_are() -> None:
    """A note in a visual finding is nobody's to convert."""
    inspection = make_inspection()
    verdict = inspection.verdicts[5]
    seen = replace(verdict.decisions[-1], why="crack found (12 mm from the end)")

    led = lead_inspection(
        replace(inspection, verdicts=(replace(verdict, decisions=(seen,)),)), "in"
    )

    assert led.verdicts[0].decisions == (seen,)
