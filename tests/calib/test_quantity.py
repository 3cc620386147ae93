"""Propagation of uncertainty against the worked examples of the GUM.

Source: JCGM 100:2008, annex H (H.1 end gauge, H.2 resistance and reactance, H.3
thermometer), data and results as printed there.
"""

from math import cos, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from calib.quantity import Influence, Quantity, combined, difference, merged


def quantity(value: float, unit: str, **influences: float) -> Quantity:
    """Make a quantity from standard uncertainties by source."""
    parts = tuple(
        Influence(source=source, label=source, u=u) for source, u in influences.items()
    )
    return Quantity(value=value, unit=unit, influences=parts)


def correlated(
    values: np.ndarray, covariance: np.ndarray, units: tuple[str, ...], name: str
) -> list[Quantity]:
    """Make quantities that share influences, so that they have this covariance."""
    factor = np.linalg.cholesky(covariance)
    return [
        quantity(
            float(value),
            unit,
            **{f"{name}{column}": float(u) for column, u in enumerate(row)},
        )
        for value, unit, row in zip(values, units, factor, strict=True)
    ]


def correlation(first: Quantity, second: Quantity) -> float:
    """Correlation that follows from shared sources."""
    parts = {part.source: part.u for part in second.influences}
    shared = sum(part.u * parts.get(part.source, 0.0) for part in first.influences)
    return shared / (first.u * second.u)


END_GAUGE_NM = {
    "standard": quantity(50_000_623.0, "nm", certificate=25.0),
    "difference": quantity(215.0, "nm", repeats=5.8, random=3.9, systematic=6.7),
    "expansion difference": quantity(0.0, "1/K", expansion_difference=1e-6 / sqrt(3.0)),
    "temperature difference": quantity(
        0.0, "K", temperature_difference=0.05 / sqrt(3.0)
    ),
    "expansion": quantity(11.5e-6, "1/K", expansion=2e-6 / sqrt(3.0)),
    "temperature": quantity(-0.1, "K", mean=0.2, cycle=0.35),
}


def end_gauge() -> Quantity:
    """Evaluate l = ls + d - ls (d_alpha theta + alpha d_theta) of GUM H.1."""
    ls, d, d_alpha, d_theta, alpha, theta = END_GAUGE_NM.values()
    value = (
        ls.value
        + d.value
        - ls.value * (d_alpha.value * theta.value + alpha.value * d_theta.value)
    )
    terms = [
        (1.0 - d_alpha.value * theta.value - alpha.value * d_theta.value, ls),
        (1.0, d),
        (-ls.value * theta.value, d_alpha),
        (-ls.value * alpha.value, d_theta),
        (-ls.value * d_theta.value, alpha),
        (-ls.value * d_alpha.value, theta),
    ]
    return combined(value, "nm", terms)


def test_gum_h1_end_gauge() -> None:
    """H.1: l = 50 000 838 nm, uc = 32 nm."""
    length = end_gauge()

    assert round(length.value) == 50_000_838
    assert round(length.u) == 32
    assert length.expanded == 2.0 * length.u


@pytest.mark.parametrize(
    ("source", "printed_nm", "decimals"),
    [
        ("certificate", 25.0, 0),
        ("temperature_difference", 16.6, 1),
        ("systematic", 6.7, 1),
        ("repeats", 5.8, 1),
        ("random", 3.9, 1),
        ("expansion_difference", 2.9, 1),
        ("expansion", 0.0, 9),
    ],
)
def test_gum_h1_components(source: str, printed_nm: float, decimals: int) -> None:
    """H.1, table H.1: each component in nm."""
    parts = {part.source: abs(part.u) for part in end_gauge().influences}

    assert round(parts[source], decimals) == printed_nm


def test_gum_h1_effective_degrees_of_freedom() -> None:
    """H.1.6: Welch-Satterthwaite 16.7 -> 16, t99 2.92, U99 93 nm (from memory)."""
    freedom = {
        "certificate": 18.0,
        "repeats": 24.0,
        "random": 5.0,
        "systematic": 8.0,
        "expansion_difference": 50.0,
        "temperature_difference": 2.0,
    }
    length = end_gauge()
    parts = {part.source: part.u for part in length.influences}

    effective = length.u**4 / sum(parts[name] ** 4 / nu for name, nu in freedom.items())

    # Printed 16.7 from uc^2 cut to 1002 nm2; whole degrees are used.
    assert int(effective) == 16
    assert round(float(student.ppf(0.995, 16)), 2) == 2.92
    assert round(float(student.ppf(0.995, 16)) * 32.0) == 93


VOLTAGE = (5.007, 4.994, 5.005, 4.990, 4.999)
CURRENT_A = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
PHASE_RAD = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


def impedance() -> dict[str, Quantity]:
    """Evaluate R, X and Z of GUM H.2 from the correlated means of V, I and phi."""
    data = np.array([VOLTAGE, CURRENT_A, PHASE_RAD])
    v, i, phi = correlated(
        data.mean(axis=1), np.cov(data) / data.shape[1], ("V", "A", "rad"), "h2_"
    )
    z, c, s = v.value / i.value, cos(phi.value), sin(phi.value)
    return {
        "R": combined(
            z * c, "ohm", [(c / i.value, v), (-z * c / i.value, i), (-z * s, phi)]
        ),
        "X": combined(
            z * s, "ohm", [(s / i.value, v), (-z * s / i.value, i), (z * c, phi)]
        ),
        "Z": combined(z, "ohm", [(1.0 / i.value, v), (-z / i.value, i)]),
    }


@pytest.mark.parametrize(
    ("name", "value", "u"),
    [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)],
)
def test_gum_h2_values(name: str, value: float, u: float) -> None:
    """H.2, table H.4: R 127.732 (0.071), X 219.847 (0.295), Z 254.260 (0.236) ohm."""
    found = impedance()[name]

    assert round(found.value, 3) == value
    # The table's 0.295 is 0.29558 cut, so one unit of its last digit is left.
    assert found.u == pytest.approx(u, abs=0.001)


@pytest.mark.parametrize(
    ("first", "second", "printed"),
    [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)],
)
def test_gum_h2_correlations(first: str, second: str, printed: float) -> None:
    """H.2, table H.4: r(R,X) -0.588, r(R,Z) -0.485, r(X,Z) 0.993."""
    found = impedance()

    assert correlation(found[first], found[second]) == pytest.approx(
        printed, abs=0.0005
    )


READING_C = (
    21.521,
    22.012,
    22.512,
    23.003,
    23.507,
    23.999,
    24.513,
    25.002,
    25.503,
    26.010,
    26.511,
)
CORRECTION_C = (
    -0.171,
    -0.169,
    -0.166,
    -0.159,
    -0.164,
    -0.165,
    -0.156,
    -0.157,
    -0.159,
    -0.161,
    -0.160,
)


def test_gum_h3_line() -> None:
    """H.3: y1 -0.1712 (29), y2 0.00218 (67), r -0.930, b(30) -0.1494 (41)."""
    design = np.column_stack([np.ones(11), np.array(READING_C) - 20.0])
    found, (squares,), *_ = np.linalg.lstsq(design, np.array(CORRECTION_C), rcond=None)
    covariance = squares / 9.0 * np.linalg.inv(design.T @ design)
    y1, y2 = correlated(found, covariance, ("K", "1"), "h3_")

    at_30 = combined(y1.value + 10.0 * y2.value, "K", [(1.0, y1), (10.0, y2)])

    assert (round(y1.value, 4), round(y1.u, 4)) == (-0.1712, 0.0029)
    assert (round(y2.value, 5), round(y2.u, 5)) == (0.00218, 0.00067)
    assert round(correlation(y1, y2), 3) == -0.930
    assert (round(at_30.value, 4), round(at_30.u, 4)) == (-0.1494, 0.0041)


def test_shared_influence_cancels_in_a_difference() -> None:
    """Two heights that share the scale differ by less than their own U."""
    first = quantity(48.0, "mm", scale=0.1, edge_1=0.01)
    second = quantity(47.5, "mm", scale=0.1, edge_2=0.01)

    gap = difference(first, second)

    assert gap.value == 0.5
    assert gap.u == pytest.approx(0.01 * sqrt(2.0))


def test_difference_refuses_two_units() -> None:
    """Millimetres and degrees have no difference."""
    with pytest.raises(ValueError, match="cannot subtract deg from mm"):
        difference(quantity(1.0, "mm"), quantity(1.0, "deg"))


def test_merged_keeps_the_first_label_and_order() -> None:
    """Parts of one source add with their sign."""
    parts = [
        Influence(source="a", label="first", u=0.3),
        Influence(source="b", label="other", u=0.1),
        Influence(source="a", label="again", u=-0.1),
    ]

    assert [(part.label, round(part.u, 9)) for part in merged(parts)] == [
        ("first", 0.2),
        ("other", 0.1),
    ]


amounts = st.floats(min_value=-10.0, max_value=10.0)


@given(a=amounts, b=amounts, ua=amounts, ub=amounts)
def test_difference_with_itself_is_certainly_zero(
    a: float, b: float, ua: float, ub: float
) -> None:
    """Whatever the influences, a quantity less itself has no uncertainty."""
    whole = combined(
        a + b, "mm", [(a, quantity(1.0, "mm", x=ua)), (b, quantity(1.0, "mm", y=ub))]
    )

    nothing = difference(whole, whole)

    assert (nothing.value, nothing.u) == (0.0, 0.0)
