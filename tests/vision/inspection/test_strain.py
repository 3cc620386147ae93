"""Stress in the wire and surge, each with the uncertainty of what it rests on."""

from collections.abc import Callable, Sequence

import pytest

from tests.vision.inspection.figures import unsure
from vision.inspection.load import Coil
from vision.inspection.strain import (
    bergstrasser,
    natural_frequency_hz,
    shear_stress_mpa,
    stress_at,
    surge_of,
)

STEP = 1e-4  # relative step of a numerical derivative


def propagated(
    by_hand: Callable[..., float], inputs: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """Value and U from inputs and their U, by numerical derivatives."""
    values = [value for value, _ in inputs]
    squares = 0.0
    for at, (value, expanded) in enumerate(inputs):
        up, down = list(values), list(values)
        up[at], down[at] = value * (1 + STEP), value * (1 - STEP)
        slope = (by_hand(*up) - by_hand(*down)) / (2 * STEP * value)
        squares += (slope * expanded) ** 2
    return by_hand(*values), squares**0.5


def test_stress_carries_the_uncertainty_of_force_and_shape() -> None:
    """U equals the root of squared numerical derivatives times each U."""
    inputs = {"force": (588.0, 8.0), "d": (4.2, 0.04), "De": (30.2, 0.1)}

    def by_hand(force: float, d: float, outside: float) -> float:
        mean = outside - d
        return bergstrasser(mean / d) * shear_stress_mpa(force, d, mean)

    found = stress_at(
        unsure(588.0, 8.0, "N"), unsure(4.2, 0.04), unsure(30.2, 0.1, source="De")
    )

    value, expanded = propagated(by_hand, list(inputs.values()))
    assert found.value == pytest.approx(value)
    assert found.expanded == pytest.approx(expanded, rel=1e-5)
    assert found.unit == "MPa"


def test_surge_carries_the_uncertainty_of_the_shape() -> None:
    """U equals the root of squared numerical derivatives times each U."""
    inputs = ((4.2, 0.04), (30.2, 0.1), (7.0, 0.2), (79_500.0, 800.0))

    def by_hand(d: float, outside: float, total: float, modulus: float) -> float:
        return natural_frequency_hz(d, outside - d, total - 2.0, modulus)

    found = surge_of(coil(*inputs))

    value, expanded = propagated(by_hand, inputs)
    assert found.value == pytest.approx(value)
    assert found.expanded == pytest.approx(expanded, rel=1e-5)
    assert found.unit == "Hz"


def test_no_coil_gives_neither() -> None:
    """A wire as thick as the spring, or dead coils alone."""
    assert (
        stress_at(unsure(588.0, 8.0, "N"), unsure(4.2, 0.1), unsure(4.0, 0.1)) is None
    )
    dead = ((4.2, 0.04), (30.2, 0.1), (2.0, 0.2), (79_500.0, 800.0))
    assert surge_of(coil(*dead)) is None


def coil(
    wire: tuple[float, float],
    outside: tuple[float, float],
    total: tuple[float, float],
    modulus: tuple[float, float],
) -> Coil:
    """A straight coil with U."""
    across = unsure(*outside, source="De")
    return Coil(
        wire=unsure(*wire, source="d"),
        bottom=across,
        top=across,
        total_coils=unsure(*total, "coils", "coils"),
        shear_modulus=unsure(*modulus, "MPa", "G"),
    )
