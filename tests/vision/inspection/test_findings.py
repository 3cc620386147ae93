"""Visual findings as entered, and the picture's hint at odd colours."""

import pytest

from calib.errors import SpecError
from vision.inspection.findings import colour_hints, parse_findings, split_finding
from vision.records.judged import Finding

GREY = (0.40, 0.38, 0.36)


def test_reads_several_findings_and_the_note() -> None:
    """Order and spaces do not matter."""
    findings = parse_findings(" pitting, crack ", "third coil")

    assert findings.found == (Finding.CRACK, Finding.PITTING)
    assert findings.note == "third coil"


def test_none_means_looked_and_found_nothing() -> None:
    """'none' is a finding of its own, unlike not having looked."""
    assert parse_findings("none").found == (Finding.NONE,)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("crak", "Did you mean crack"),
        ("blue", "Known are none, break, crack, heat"),
        ("none,crack", "finds something and nothing"),
        ("", "nothing is named"),
        (" , ", "nothing is named"),
    ],
)
def test_refuses_what_is_no_finding(text: str, words: str) -> None:
    """Each fault is said with what is known."""
    with pytest.raises(SpecError, match=words):
        parse_findings(text)


def test_refuses_an_endless_note() -> None:
    """A note is a line, no book."""
    with pytest.raises(SpecError, match="the note has 501 characters"):
        parse_findings("crack", "x" * 501)


def test_splits_the_spring_from_its_findings() -> None:
    """'3=crack,heat' belongs to spring 3."""
    word, findings = split_finding("3=crack,heat")

    assert word == "3"
    assert findings.found == (Finding.CRACK, Finding.HEAT)


@pytest.mark.parametrize("text", ["crack", "=crack"])
def test_refuses_a_finding_without_a_spring(text: str) -> None:
    """Nobody knows which spring is cracked."""
    with pytest.raises(SpecError, match="names no spring"):
        split_finding(text)


def test_hints_at_the_rusty_spring() -> None:
    """Rust takes more blue than red: yellower than the set's median."""
    hints = colour_hints({1: GREY, 2: GREY, 3: (0.40, 0.25, 0.15), 4: GREY})

    assert list(hints) == [3]
    assert (
        hints[3] == "the wire looks yellower than the set: look again for heat or rust"
    )


def test_hints_at_the_blued_spring() -> None:
    """Bluer than the set's median."""
    hints = colour_hints({1: GREY, 2: (0.30, 0.38, 0.60), 3: GREY, 4: GREY})

    assert "bluer" in hints[2]


def test_hints_at_the_rustier_of_a_rusty_row() -> None:
    """Six rusty wires as rendered (pairs_rusty); the fifth is redder to the eye."""
    row = {
        1: (0.121, 0.089, 0.079),
        2: (0.119, 0.090, 0.081),
        3: (0.118, 0.088, 0.080),
        4: (0.118, 0.089, 0.082),
        5: (0.110, 0.077, 0.066),
        6: (0.107, 0.080, 0.073),
    }

    assert colour_hints(row) == {
        5: "the wire looks redder than the set: look again for heat or rust"
    }


def test_a_clean_row_gives_no_hint() -> None:
    """Eight clean wires as rendered (harrow_row), whose ratios scatter by 2 %."""
    row = {
        1: (0.185, 0.174, 0.176),
        2: (0.182, 0.170, 0.173),
        3: (0.179, 0.167, 0.170),
        4: (0.193, 0.181, 0.184),
        5: (0.191, 0.179, 0.182),
        6: (0.189, 0.177, 0.180),
        7: (0.182, 0.170, 0.173),
        8: (0.184, 0.172, 0.175),
    }

    assert colour_hints(row) == {}


def test_light_and_shade_are_no_hint() -> None:
    """Half the light in the same colour says nothing, nor does the lamp's tint."""
    tint = {1: (0.8, 0.4, 0.2), 2: (0.4, 0.2, 0.1), 3: (0.6, 0.3, 0.15)}

    assert colour_hints(tint) == {}


def test_a_set_of_mixed_colours_names_nobody() -> None:
    """Where every spring has its own colour, none is odd."""
    mixed = {
        1: (0.5, 0.4, 0.3),
        2: (0.4, 0.4, 0.4),
        3: (0.3, 0.4, 0.5),
        4: (0.45, 0.4, 0.5),
    }

    assert colour_hints(mixed) == {}


@pytest.mark.parametrize(
    "colours",
    [{}, {1: GREY, 2: (0.9, 0.1, 0.1)}, {1: GREY, 2: GREY, 3: (0.0, 0.0, 0.0)}],
)
def test_too_few_springs_give_no_hint(
    colours: dict[int, tuple[float, float, float]],
) -> None:
    """Two springs have no usual colour; a black one has no colour at all."""
    assert colour_hints(colours) == {}


def test_a_word_of_the_plain_name_is_understood() -> None:
    """Who types rust is shown the finding that holds it."""
    with pytest.raises(SpecError, match="Did you mean pitting"):
        parse_findings("rust")
