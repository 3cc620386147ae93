"""Rate, load at a height, coil bind, nested pairs, each with its uncertainty.

Symbols after EN 13906-1: R rate, G modulus of rigidity, d wire, D mean coil diameter,
n active and nt total coils, L0 free, L1 closed, L2 open and Lc solid height, F force.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

from calib.quantity import Quantity, combined, difference

DEAD_COILS = 2.0  # closed and ground ends: n = nt - 2 (Machinery's Handbook, 31st ed.)
LEAST_TRAVEL_MM = 1.0  # between two loads, below which a rate means nothing
STEEL_KG_PER_DM3 = 7.85


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPoint:
    """A force read at a height."""

    height: Quantity
    force: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """Wire, outside diameters at both ends, total coils and G of one spring.

    A straight spring has the same diameter at both ends; a tapered one is taken as a
    cone of constant pitch.
    """

    wire: Quantity
    bottom: Quantity
    top: Quantity
    total_coils: Quantity
    shear_modulus: Quantity


def rate_n_per_mm(
    modulus_mpa: float, wire_mm: float, means_mm: tuple[float, float], active: float
) -> float:
    """Compute R = G d^4 / (2 n (D1 + D2)(D1^2 + D2^2)).

    With D1 = D2 it is G d^4 / (8 D^3 n). ``means_mm`` are the mean coil diameters at
    both ends. Any consistent units do.
    """
    first, second = means_mm
    cone = (first + second) * (first**2 + second**2)
    return modulus_mpa * wire_mm**4 / (2.0 * active * cone)


def rate_from_geometry(coil: Coil) -> Quantity | None:
    """Compute the rate from the coil's shape; None where no coil is active."""
    d = coil.wire.value
    d1, d2 = coil.bottom.value - d, coil.top.value - d
    active = coil.total_coils.value - DEAD_COILS
    if active <= 0.0 or min(d, d1, d2) <= 0.0:
        return None
    rate = rate_n_per_mm(coil.shear_modulus.value, d, (d1, d2), active)
    # Logarithmic derivatives by each mean diameter; d enters them with minus one.
    by_d1 = -1.0 / (d1 + d2) - 2.0 * d1 / (d1**2 + d2**2)
    by_d2 = -1.0 / (d1 + d2) - 2.0 * d2 / (d1**2 + d2**2)
    terms = [
        (rate / coil.shear_modulus.value, coil.shear_modulus),
        (rate * (4.0 / d - by_d1 - by_d2), coil.wire),
        (rate * by_d1, coil.bottom),
        (rate * by_d2, coil.top),
        (-rate / active, coil.total_coils),
    ]
    return combined(rate, "N/mm", terms)


def rate_from_loads(closed: LoadPoint, opened: LoadPoint) -> Quantity | None:
    """Compute R = (F2 - F1) / (L1 - L2); None where travel or gain is too small."""
    travel = closed.height.value - opened.height.value
    gain = opened.force.value - closed.force.value
    if travel < LEAST_TRAVEL_MM or gain <= 0.0:
        return None
    rate = gain / travel
    terms = [
        (1.0 / travel, opened.force),
        (-1.0 / travel, closed.force),
        (-rate / travel, closed.height),
        (rate / travel, opened.height),
    ]
    return combined(rate, "N/mm", terms)


def implied_free_height(closed: LoadPoint, rate: Quantity) -> Quantity:
    """Compute L1 + F1 / R, usually 0.5 to 2 mm short of L0 and never its truth."""
    travel = closed.force.value / rate.value
    terms = [
        (1.0, closed.height),
        (1.0 / rate.value, closed.force),
        (-travel / rate.value, rate),
    ]
    return combined(closed.height.value + travel, "mm", terms)


def force_at_height(read: LoadPoint, height_mm: float, rate: Quantity) -> Quantity:
    """Bring a force read at one height to another: F + R (L_read - L)."""
    over_mm = read.height.value - height_mm
    terms = [(1.0, read.force), (rate.value, read.height), (over_mm, rate)]
    return combined(read.force.value + rate.value * over_mm, "N", terms)


def solid_height(wire: Quantity, total_coils: Quantity, *, ground: bool) -> Quantity:
    """Compute Lc = nt d with ground ends, (nt + 1) d without."""
    coils = total_coils.value + (0.0 if ground else 1.0)
    terms = [(coils, wire), (wire.value, total_coils)]
    return combined(coils * wire.value, "mm", terms)


def coil_bind_clearance(open_height: Quantity, solid: Quantity) -> Quantity:
    """Compute open height minus solid height."""
    return difference(open_height, solid)


def pair_force(
    springs: Sequence[tuple[Quantity, Quantity]], height: Quantity
) -> Quantity:
    """Add the forces of nested springs at one height.

    ``springs`` are rates and free heights; one that is shorter than the height adds
    nothing.
    """
    total, terms = 0.0, []
    for rate, free in springs:
        travel = free.value - height.value
        if travel <= 0.0:
            continue
        total += rate.value * travel
        terms += [(travel, rate), (rate.value, free), (-rate.value, height)]
    return combined(total, "N", terms)


def pair_height(springs: Sequence[tuple[float, float]], force_n: float) -> float:
    """Find the height in mm at which nested springs together carry a force.

    ``springs`` are rates in N/mm and free heights in mm; the longest take load first.
    """
    by_height = sorted(springs, key=lambda spring: -spring[1])
    height_mm = by_height[0][1]
    for count in range(1, len(by_height) + 1):
        touching = by_height[:count]
        rate = sum(each[0] for each in touching)
        height_mm = (sum(r * free for r, free in touching) - force_n) / rate
        if count == len(by_height) or height_mm >= by_height[count][1]:
            break
    return height_mm


def wahl(index: float) -> float:
    """Compute Wahl's factor (4C - 1)/(4C - 4) + 0.615/C."""
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


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


def least_gaps_mm(wire_mm: float, mean_mm: float, active: float) -> float:
    """Compute Sa, the sum of least gaps at static load (EN 13906-1; x 1.5 moving)."""
    return active * (0.0015 * mean_mm**2 / wire_mm + 0.1 * wire_mm)
