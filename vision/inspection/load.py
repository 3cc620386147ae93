"""Rate, load at a height and coil bind, each with its uncertainty.

Symbols after EN 13906-1: R rate, G modulus of rigidity, d wire, D mean coil diameter,
n active and nt total coils, L0 free, L1 closed, L2 open and Lc solid height, F force.
"""

from dataclasses import dataclass

from calib.quantity import Quantity, combined, difference

DEAD_COILS = 2.0  # closed and ground ends: n = nt - 2 (Machinery's Handbook, 31st ed.)
LEAST_TRAVEL_MM = 1.0  # between two loads, below which a rate means nothing


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


def least_gaps_mm(wire_mm: float, mean_mm: float, active: float) -> float:
    """Compute Sa, the sum of least gaps at static load (EN 13906-1; x 1.5 moving)."""
    return active * (0.0015 * mean_mm**2 / wire_mm + 0.1 * wire_mm)
