"""Figures in sentences: both units, U to one or two digits, rounded up."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vision.inspection.figures import sure, unsure
from vision.inspection.wording import join_words, say, say_number, say_range


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "text"),
    [
        (48.0163, 0.0702, "mm", "48.02 ± 0.07 mm (1.8904 ± 0.0028 in)"),
        (48.0163, 0.0735, "mm", "48.02 ± 0.08 mm (1.8904 ± 0.0029 in)"),
        (48.0163, 0.123, "mm", "48.02 ± 0.13 mm (1.890 ± 0.005 in)"),
        (291.2, 4.3, "N", "291 ± 5 N (65.5 ± 1.0 lbf)"),
        (1.234, 0.21, "deg", "1.23° ± 0.21°"),
        (30.1, 24.0, "N/mm", "30 ± 24 N/mm (172 ± 137 lbf/in)"),
    ],
)
def test_uncertainty_sets_the_digits(
    value: float, expanded: float, unit: str, text: str
) -> None:
    """Two digits of U when it begins with 1 or 2, else one (JCGM 100:2008, 7.2.6)."""
    assert say(unsure(value, expanded, unit)) == text


def test_a_figure_without_uncertainty_has_none() -> None:
    """A specification's figure is said as it is."""
    assert say(sure(48.0, "mm")) == "48.00 mm (1.8898 in)"


def test_limits_are_said_in_both_units() -> None:
    """mm with in, N with lbf, degrees alone."""
    assert say_number(1.5, "mm") == "1.50 mm (0.0591 in)"
    assert say_number(290.0, "N") == "290.0 N (65.2 lbf)"
    assert say_number(2.0, "deg") == "2.00°"


def test_ranges_are_said_with_one_unit_each() -> None:
    """Both limits, then the unit; the minus is a real one and never before zero."""
    assert say_range(47.1, 48.3, "mm") == "47.10 to 48.30 mm (1.8543 to 1.9016 in)"
    assert say_range(-0.08, 0.07, "mm") == "−0.08 to 0.07 mm (−0.0031 to 0.0028 in)"
    assert say_range(1.0, 2.0, "deg") == "1.00 to 2.00°"
    assert say_number(-0.00001, "mm") == "0.00 mm (0.0000 in)"


def test_words_are_joined_as_in_a_sentence() -> None:
    """One, two or three words."""
    assert [join_words(words) for words in (["a"], ["a", "b"], ["a", "b", "c"])] == [
        "a",
        "a and b",
        "a, b and c",
    ]


@given(expanded=st.floats(min_value=1e-3, max_value=50.0))
def test_said_uncertainty_is_never_more_than_2_per_cent_too_small(
    expanded: float,
) -> None:
    """Rounding never flatters."""
    said = float(say(unsure(48.0, expanded, "N/mm")).split()[2])

    assert said >= 0.98 * expanded - 1e-12
