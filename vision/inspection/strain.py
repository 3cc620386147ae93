"""What load and shape do to the wire: shear stress and surge, each with U.

Symbols after EN 13906-1: d wire, D mean and De outside coil diameter, n active coils,
C = D / d, F force, G modulus of rigidity. For straight springs only.
"""

from math import pi, sqrt

from calib.quantity import Quantity, combined
from vision.inspection.load import DEAD_COILS, Coil

STEEL_KG_PER_DM3 = 7.85


def stress_at(force: Quantity, wire: Quantity, outside: Quantity) -> Quantity | None:
    """Compute the shear stress k 8 F D / (pi d^3) in MPa; None without a coil."""
    d, mean = wire.value, outside.value - wire.value
    if min(d, mean - d) <= 0.0:
        return None
    index = mean / d
    factor = bergstrasser(index)
    stress = factor * shear_stress_mpa(force.value, d, mean)
    # d ln k / dC; C = De / d - 1.
    bend = -20.0 / ((4.0 * index - 3.0) * (4.0 * index + 2.0))
    terms = [
        (stress / force.value, force),
        (stress * (1.0 / mean + bend / d), outside),
        (stress * (-1.0 / mean - 3.0 / d - bend * outside.value / d**2), wire),
    ]
    return combined(stress, "MPa", terms)


def surge_of(coil: Coil) -> Quantity | None:
    """Compute the first surge frequency in Hz; None where no coil is active."""
    d, mean = coil.wire.value, coil.bottom.value - coil.wire.value
    active = coil.total_coils.value - DEAD_COILS
    if active <= 0.0 or min(d, mean) <= 0.0:
        return None
    modulus = coil.shear_modulus
    frequency = natural_frequency_hz(d, mean, active, modulus.value)
    terms = [
        (frequency * (1.0 / d + 2.0 / mean), coil.wire),
        (-2.0 * frequency / mean, coil.bottom),
        (-frequency / active, coil.total_coils),
        (0.5 * frequency / modulus.value, modulus),
    ]
    return combined(frequency, "Hz", terms)


def bergstrasser(index: float) -> float:
    """Compute Bergstrasser's factor (4C + 2)/(4C - 3), the k of EN 13906-1."""
    return (4.0 * index + 2.0) / (4.0 * index - 3.0)


def shear_stress_mpa(force_n: float, wire_mm: float, mean_mm: float) -> float:
    """Compute 8 F D / (pi d^3), before any factor for curvature."""
    return 8.0 * force_n * mean_mm / (pi * wire_mm**3)


def natural_frequency_hz(
    wire_mm: float,
    mean_mm: float,
    active: float,
    modulus_mpa: float,
    density_kg_per_dm3: float = STEEL_KG_PER_DM3,
) -> float:
    """Compute the first surge frequency with both ends seated.

    d / (2 sqrt2 pi n D^2) sqrt(G / rho); EN 13906-1 writes 3560 d / (n D^2)
    sqrt(G / rho) with these units.
    """
    # sqrt(N/mm2 / (kg/dm3)) is 1000^1.5 mm/s.
    wave_mm_per_s: float = 1000.0**1.5 * sqrt(modulus_mpa / density_kg_per_dm3)
    return wire_mm * wave_mm_per_s / (sqrt(8.0) * pi * active * mean_mm**2)
