"""Rounding and units of shown numbers."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.quantity import Influence, Quantity
from vision.output.show import (
    round_uncertainty,
    show_given,
    show_limit,
    show_number,
    show_quantity,
    show_reading,
    show_signed,
    unit_text,
)
from vision.records.judged import Instrument, Limit, Reading


def quantity(value: float, expanded: float, unit: str = "mm") -> Quantity:
    part = Influence(source="fit", label="fit of the edges", u=expanded / 2)
    return Quantity(value=value, unit=unit, influences=(part,))


def test_value_takes_the_decimals_of_its_uncertainty() -> None:
    """JCGM 100:2008, 7.2.6: y = 10.05762 ohm, u = 27 milliohm is given as 10.058."""
    shown = show_number(10.05762, 0.027, "ohm")

    assert shown.text == "10.058 ± 0.027 ohm"


def test_a_negligible_rest_is_dropped() -> None:
    """JCGM 100:2008, 7.2.6: 28.05 kHz should be rounded down to 28 kHz."""
    assert f"{round_uncertainty(28.05):f}" == "28"


@pytest.mark.parametrize(
    ("expanded", "shown"),
    [
        (10.47, "11"),  # JCGM 100:2008, 7.2.6: 10.47 milliohm is rounded up to 11
        (0.0662, "0.07"),
        (0.0301, "0.03"),  # the rest is 0.3 % of U
        (0.0310, "0.04"),
        (0.0299, "0.030"),
        (0.0961, "0.10"),
        (0.996, "1.0"),
        (2.0, "2.0"),
        (3.0, "3"),
        (32.0, "40"),
        (150.0, "150"),
    ],
)
def test_uncertainty_has_at_most_two_digits(expanded: float, shown: str) -> None:
    """Two digits when U begins with 1 or 2, otherwise one; rounded up."""
    assert f"{round_uncertainty(expanded):f}" == shown


@given(st.floats(min_value=1e-4, max_value=1e4))
def test_uncertainty_is_never_made_to_look_much_smaller(expanded: float) -> None:
    """Rounding takes at most 2 % off U and adds at most a third."""
    rounded = round_uncertainty(expanded)

    assert 0.98 * expanded <= float(rounded) <= 1.34 * expanded
    assert len(rounded.as_tuple().digits) <= 2


@given(
    st.floats(min_value=-500, max_value=500), st.floats(min_value=1e-3, max_value=50)
)
def test_shown_value_lies_within_half_a_step(value: float, expanded: float) -> None:
    """Value and U end at the same place and the value moves by half of it at most."""
    shown = show_number(value, expanded, "mm")
    read = float(shown.value.replace("−", "-"))
    decimals = [len(part.partition(".")[2]) for part in shown.number.split(" ± ")]

    assert decimals[0] == decimals[1]
    step = 10.0 ** -decimals[0] if decimals[0] else 10.0
    assert abs(read - value) <= step / 2 + 1e-9


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "text"),
    [
        (48.0163, 0.0662, "mm", "48.02 ± 0.07 mm"),
        (-0.312, 0.08, "deg", "−0.31° ± 0.08°"),
        (-0.001, 0.03, "mm", "0.00 ± 0.03 mm"),
        (1234.5, 32.0, "N", "1230 ± 40 N"),
        (6.5, 0.0, "coils", "6.5 coils U not stated"),
        (float("nan"), 0.1, "mm", "not known"),
        (48.0, float("inf"), "mm", "not known"),
    ],
)
def test_text_carries_unit_and_uncertainty(
    value: float, expanded: float, unit: str, text: str
) -> None:
    """No number stands alone; what is not known is not shown as a number."""
    assert show_number(value, expanded, unit).text == text


def test_inches_and_pounds_are_exact() -> None:
    """One inch is 25.4 mm and one pound-force 4.4482216152605 N, by definition."""
    length = show_quantity(quantity(25.4, 0.0254), "in")
    force = show_quantity(quantity(4.4482216152605, 0.44482216152605, "N"), "in")

    assert length.text == "1.0000 ± 0.0010 in"
    assert force.text == "1.00 ± 0.10 lbf"


def test_angles_and_counts_keep_their_unit_in_inches() -> None:
    """Only lengths, forces and rates change with the choice of units."""
    assert show_quantity(quantity(0.3, 0.1, "deg"), "in").text == "0.30° ± 0.10°"
    assert unit_text("coils", "in") == "coils"
    assert unit_text("N/mm", "in") == "lbf/in"


def test_rate_in_pounds_per_inch() -> None:
    """1 lbf/in = 0.1751268 N/mm (NIST SP 811, appendix B.8: 175.1268 N/m)."""
    shown = show_quantity(quantity(0.1751268, 0.001751268, "N/mm"), "in")

    assert shown.text == "1.000 ± 0.010 lbf/in"


def test_a_hand_reading_says_so() -> None:
    """What no photo gave is marked wherever it is shown."""
    reading = Reading(
        instrument=Instrument.CLOSED_FORCE, value=221, unit="N", expanded_uncertainty=4
    )

    assert show_reading(reading).text == "221 ± 4 N by hand"
    assert show_reading(reading, "in").text == "49.7 ± 0.9 lbf by hand"
    assumed = replace(reading, assumed=True)
    assert show_reading(assumed).text == "221 ± 4 N by hand, U assumed"


@pytest.mark.parametrize(
    ("limit", "metric", "inch"),
    [
        (
            Limit(unit="mm", minimum=47.1, maximum=48.5),
            "47.1 to 48.5 mm",
            "1.8543 to 1.9094 in",
        ),
        (Limit(unit="mm", maximum=1.6), "at most 1.6 mm", "at most 0.063 in"),
        (Limit(unit="deg", maximum=2), "at most 2°", "at most 2°"),
        (Limit(unit="N", minimum=258), "at least 258 N", "at least 58 lbf"),
        (Limit(unit="mm"), "", ""),
    ],
)
def test_limits_are_said_in_words(limit: Limit, metric: str, inch: str) -> None:
    """Limits are exact: no U, no trailing zeros."""
    assert show_limit(limit) == metric
    assert show_limit(limit, "in") == inch


def test_given_numbers_convert() -> None:
    """A spread limit of 1/16 in is 1.588 mm."""
    assert show_given(25.4 / 16, "mm") == "1.588 mm"
    assert show_given(25.4 / 16, "mm", "in") == "0.0625 in"


def test_direction_has_a_sign() -> None:
    """A lean to the right has its plus; zero and unknown have no sign."""
    assert show_signed(show_number(0.42, 0.08, "deg")).text == "+0.42° ± 0.08°"
    assert show_signed(show_number(-0.42, 0.08, "deg")).text == "−0.42° ± 0.08°"
    assert show_signed(show_number(0.0, 0.08, "deg")).text == "0.00° ± 0.08°"
    assert show_signed(show_number(float("nan"), 1, "deg")).text == "not known"
