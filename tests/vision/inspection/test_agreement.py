"""Photo against hand: the published comparison of methods and lines with two errors.

Bland and Altman, Lancet 1986; i: 307-310 (peak flow, 17 subjects, l/min; printed
figures from memory where not marked read). Ripley and Thompson, Analyst 1987; 112:
377-383 (arsenate, 30 samples).
"""

from math import sqrt
from statistics import correlation, linear_regression

import pytest

from calib.errors import SpecError
from vision.inspection.agreement import (
    deming,
    deming_weighted,
    limits_of_agreement,
    say_agreement,
)

WRIGHT_1 = [
    494,
    395,
    516,
    434,
    476,
    557,
    413,
    442,
    650,
    433,
    417,
    656,
    267,
    478,
    178,
    423,
    427,
]
MINI_1 = [
    512,
    430,
    520,
    428,
    500,
    600,
    364,
    380,
    658,
    445,
    432,
    626,
    260,
    477,
    259,
    350,
    451,
]
FIRSTS = (("Wright", WRIGHT_1), ("mini", MINI_1))


def test_published_bias_and_limits() -> None:
    """Printed with 2 SD: mean -2.1, SD 38.8, limits -79.7 and 75.5 (l/min).

    The paper multiplies the rounded SD, so its limits are 0.06 and 0.09 wider.
    """
    found = limits_of_agreement(*FIRSTS, "l/min", factor=2.0)

    assert round(found.bias.value, 1) == -2.1
    assert round(found.sd, 1) == 38.8
    assert round(-2.1 - 2.0 * round(found.sd, 1), 1) == -79.7
    assert round(-2.1 + 2.0 * round(found.sd, 1), 1) == 75.5
    assert round(found.lower.value, 4) == -79.6479
    assert round(found.upper.value, 4) == 75.4126


def test_limits_with_1_96_standard_deviations() -> None:
    """By default 1.96 SD: -78.0973 and 73.8620 (recomputed)."""
    found = limits_of_agreement(*FIRSTS, "l/min")

    assert found.factor == 1.96
    assert round(found.lower.value, 4) == -78.0973
    assert round(found.upper.value, 4) == 73.8620


def test_published_confidence_limits() -> None:
    """Printed: bias -22.0 to 17.8; lower -114.3 to -45.1 (read), upper 40.9 to 110.1.

    The paper's come from rounded figures; the limits agree to 0.2.
    """
    found = limits_of_agreement(*FIRSTS, "l/min", factor=2.0)

    assert (round(found.bias.low, 1), round(found.bias.high, 1)) == (-22.0, 17.8)
    half = (found.lower.high - found.lower.low) / 2.0
    assert round(half / 2.12, 1) == 16.3  # SE of a limit, t(16) = 2.12
    assert found.lower.low == pytest.approx(-114.3, abs=0.2)
    assert found.lower.high == pytest.approx(-45.1, abs=0.2)
    assert found.upper.low == pytest.approx(40.9, abs=0.2)
    assert found.upper.high == pytest.approx(110.1, abs=0.2)


def test_data_are_the_published_ones() -> None:
    """Printed r = 0.94 (read)."""
    assert round(correlation(WRIGHT_1, MINI_1), 2) == 0.94


def test_points_of_the_plot_are_means_and_differences() -> None:
    """The first subject: mean 503, difference -18."""
    found = limits_of_agreement(*FIRSTS, "l/min")

    assert (found.means[0], found.differences[0]) == (503.0, -18.0)
    assert found.count == 17


def test_refuses_too_few_pairs() -> None:
    """Two pairs have no standard deviation worth the name."""
    with pytest.raises(SpecError, match="there are 2 pairs, below 3"):
        limits_of_agreement(("photo", [1, 2]), ("caliper", [1, 2]), "mm")


def test_says_what_a_bias_means_at_the_bench() -> None:
    """Photo 0.1 mm above the caliper, within 0.5 mm: either may stand in."""
    caliper = [48.0, 47.5, 48.2, 47.9, 48.1]
    photo = [
        each + 0.1 + wobble
        for each, wobble in zip(caliper, (0.01, -0.01, 0.0, 0.02, -0.02), strict=True)
    ]

    sentence = say_agreement(
        limits_of_agreement(("photo", photo), ("caliper", caliper), "mm"), 0.5
    )

    assert sentence.startswith(
        "over 5 springs photo reads 0.10 mm (0.0039 in) above caliper on average; "
        "for 95 % of springs photo less caliper is 0.07 to 0.13 mm"
    )
    assert sentence.endswith(
        "that is inside 0.50 mm (0.0197 in): either may stand for the other"
    )


def test_says_when_one_method_cannot_stand_for_the_other() -> None:
    """No bias beyond chance, but a scatter wider than what matters."""
    sentence = say_agreement(
        limits_of_agreement(
            ("photo", [48.4, 47.6, 48.3, 47.8]), ("caliper", [48.0] * 4), "mm"
        ),
        0.2,
    )

    assert "no difference on average beyond chance" in sentence
    assert "do not take one for the other near a limit" in sentence


@pytest.mark.parametrize(
    ("first", "second", "intercept", "slope"),
    [
        ([1, 2, 3, 4, 5, 6], [2.3, 1.3, 4.1, 3.5, 6.3, 3.0], 0.423519, 0.855185),
        (
            list(range(1, 11)),
            [
                2.3 * x + e / 2.0
                for x, e in zip(
                    range(1, 11), (0, -1, 2, -3, 4, -5, 6, -7, 8, -5), strict=True
                )
            ],
            -1.328592,
            2.532471,
        ),
        (WRIGHT_1, MINI_1, 15.2316, 0.970881),
    ],
    ids=["six", "ten", "peak flow"],
)
def test_deming_lines(
    first: list[float], second: list[float], intercept: float, slope: float
) -> None:
    """Closed form with equal errors (recomputed; data of the first two published)."""
    line = deming(first, second)

    assert line.slope == pytest.approx(slope, abs=6e-7)
    assert line.intercept == pytest.approx(intercept, abs=6e-5)


def test_deming_without_error_in_the_first_is_least_squares() -> None:
    """An enormous error ratio leaves the plain regression, slope 0.511429."""
    x, y = [1, 2, 3, 4, 5, 6], [2.3, 1.3, 4.1, 3.5, 6.3, 3.0]

    assert linear_regression(x, y).slope == pytest.approx(0.511429, abs=1e-6)
    assert deming(x, y, ratio=1e9).slope == pytest.approx(0.511429, abs=1e-6)


def test_deming_needs_values_that_vary_together() -> None:
    """Springs all alike give no line."""
    with pytest.raises(SpecError, match="the values do not vary together"):
        deming([1.0, 1.0, 1.0], [1.0, 2.0, 3.0])


AAS = [
    8.71,
    7.01,
    3.28,
    5.60,
    1.55,
    1.75,
    0.73,
    3.66,
    0.90,
    9.39,
    4.39,
    3.69,
    0.34,
    1.94,
    2.07,
    1.38,
    1.81,
    1.27,
    0.82,
    1.88,
    5.66,
    0,
    0,
    0.40,
    0,
    1.98,
    10.21,
    4.64,
    5.66,
    19.25,
]
SE_AAS = [
    1.92,
    1.56,
    0.76,
    1.26,
    0.39,
    0.43,
    0.22,
    0.84,
    0.25,
    2.07,
    1.00,
    0.84,
    0.13,
    0.47,
    0.50,
    0.36,
    0.45,
    0.33,
    0.23,
    0.46,
    1.27,
    0.06,
    0.06,
    0.15,
    0.06,
    0.48,
    2.24,
    1.05,
    1.27,
    4.18,
]
AES = [
    7.35,
    7.92,
    3.40,
    5.44,
    2.07,
    2.29,
    0.66,
    3.43,
    1.25,
    6.58,
    3.31,
    2.72,
    2.32,
    1.50,
    3.50,
    1.17,
    2.31,
    1.88,
    0.44,
    1.37,
    7.04,
    0,
    0.49,
    1.29,
    0.37,
    2.16,
    12.53,
    3.90,
    4.66,
    15.86,
]
SE_AES = [
    2.07,
    2.23,
    0.96,
    1.53,
    0.59,
    0.65,
    0.19,
    0.97,
    0.36,
    1.85,
    0.93,
    0.77,
    0.66,
    0.43,
    0.99,
    0.33,
    0.66,
    0.54,
    0.13,
    0.40,
    1.98,
    0.01,
    0.15,
    0.37,
    0.12,
    0.62,
    3.51,
    1.10,
    1.31,
    4.45,
]


def test_published_line_with_individual_uncertainties() -> None:
    """Printed: intercept 0.106448, slope 0.973000, scatter 1.27.

    The slope's fifth figure is the printed solver's tolerance: 0.972988 recomputed.
    """
    line = deming_weighted((AAS, SE_AAS), (AES, SE_AES))

    assert line.intercept == pytest.approx(0.106448, abs=1e-5)
    assert line.slope == pytest.approx(0.972988, abs=1e-6)
    assert round(line.scatter, 2) == 1.27


def test_published_least_squares_of_the_same_data() -> None:
    """Printed: 0.544 and 0.845, so the data are the published ones."""
    plain = linear_regression(AAS, AES)

    assert (round(plain.intercept, 3), round(plain.slope, 3)) == (0.544, 0.845)


def test_equal_uncertainties_give_the_closed_form() -> None:
    """Both ways agree where every value is equally sure."""
    ones = [0.1] * 17

    assert deming_weighted((WRIGHT_1, ones), (MINI_1, ones)).slope == pytest.approx(
        deming(WRIGHT_1, MINI_1).slope, abs=1e-7
    )


def test_standard_error_of_a_limit() -> None:
    """sqrt(3 s^2 / n) = 16.28 l/min (printed 16.3)."""
    found = limits_of_agreement(*FIRSTS, "l/min")

    assert round(sqrt(3.0 * found.sd**2 / found.count), 1) == 16.3
