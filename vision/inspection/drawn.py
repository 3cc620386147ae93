"""The spring as the specification draws it: what its figures imply of the shape."""

from calib.quantity import Quantity
from vision.inspection.load import LoadPoint, rate_from_loads, rate_n_per_mm
from vision.inspection.materials import MATERIALS
from vision.inspection.tolerances import Design
from vision.records.judged import Limit, Load, Requirements

LEAST_COILS = 2.0  # active ones, which EN 15800 covers


def middle(limit: Limit | None) -> float | None:
    """Find what stands for a new spring: nominal, else the middle of its limits."""
    if limit is None or limit.nominal is not None:
        return limit.nominal if limit else None
    low = limit.minimum if limit.new_minimum is None else limit.new_minimum
    known = [bound for bound in (low, limit.maximum) if bound is not None]
    return sum(known) / len(known) if known else None


def asked_rate(asked: Requirements) -> Quantity | None:
    """Compute the rate that the two loads imply."""
    closed, opened = point_of(asked.closed), point_of(asked.open)
    return rate_from_loads(closed, opened) if closed and opened else None


def find_design(asked: Requirements) -> Design | None:
    """Find wire, diameter, coils and rate as drawn; None where the file leaves gaps.

    The active coils follow from the rate and the material: n = G d^4 / (8 D^3 R).
    """
    outside_mm, wire_mm = middle(asked.outside_diameter), middle(asked.wire_diameter)
    implied = asked_rate(asked)
    rate = middle(asked.rate) or (implied.value if implied else None)
    material = MATERIALS.get(asked.material or "")
    modulus_mpa = asked.shear_modulus_mpa or (material and material.shear_modulus_mpa)
    if not (outside_mm and wire_mm and rate and modulus_mpa):
        return None
    mean_mm = outside_mm - wire_mm
    if mean_mm <= wire_mm:
        return None
    active = rate_n_per_mm(modulus_mpa, wire_mm, (mean_mm, mean_mm), 1.0) / rate
    if active < LEAST_COILS:
        return None
    return Design(wire_mm=wire_mm, mean_mm=mean_mm, active=active, rate_n_per_mm=rate)


def point_of(load: Load | None) -> LoadPoint | None:
    """Take a load as asked, as if it were read without error."""
    force_n = middle(load.force) if load else None
    if load is None or force_n is None:
        return None
    return LoadPoint(
        height=Quantity(value=load.height_mm, unit="mm", influences=()),
        force=Quantity(value=force_n, unit="N", influences=()),
    )
