"""What follows from a spring's readings and shape; for the eye, it decides nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from calib.quantity import Quantity
from vision.inspection.evidence import Case
from vision.inspection.loading import clearance
from vision.inspection.rates import find_coil, find_rate, shape_rate
from vision.inspection.strain import stress_at, surge_of
from vision.records.judged import Instrument
from vision.records.measured import Characteristic

TAPER_SHARE = 0.02  # of the diameter; straight springs are coiled more evenly


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """A computed value and what it rests on."""

    text: str
    value: Quantity
    origin: str


def derive(case: Case) -> Iterator[Derived]:
    """Compute rate, clearance, stress and surge, as far as the figures reach."""
    rate, by_shape, left = find_rate(case), shape_rate(case), clearance(case)
    if rate:
        yield Derived(text="rate R", value=rate.value, origin=f"from {rate.origin}")
    if by_shape and rate and rate.origin != by_shape.origin:
        origin = f"from {by_shape.origin} and the material"
        yield Derived(text="rate R", value=by_shape.value, origin=origin)
    if left:
        origin = "open height less solid height"
        yield Derived(text="coil-bind clearance", value=left, origin=origin)
    yield from _strain(case)


def _strain(case: Case) -> Iterator[Derived]:
    if _is_tapered(case):
        return
    force = case.hand(Instrument.OPEN_FORCE)
    wire, outside = (
        case.photo(Characteristic.WIRE_DIAMETER),
        case.photo(Characteristic.OUTSIDE_DIAMETER),
    )
    stress = stress_at(force, wire, outside) if force and wire and outside else None
    if stress:
        origin = "at the open force, with Bergsträsser's factor (EN 13906-1)"
        yield Derived(text="shear stress in the wire", value=stress, origin=origin)
    coil = find_coil(case)
    surge = surge_of(coil) if coil else None
    if surge:
        origin = "from its shape in the photo and the material"
        yield Derived(text="first surge frequency", value=surge, origin=origin)


def _is_tapered(case: Case) -> bool:
    """Tell whether the ends differ by more than U and more than coiling leaves."""
    bottom, top = (
        case.photo(Characteristic.BOTTOM_DIAMETER),
        case.photo(Characteristic.TOP_DIAMETER),
    )
    if bottom is None or top is None:
        return False
    apart = abs(bottom.value - top.value)
    least = max(bottom.expanded + top.expanded, TAPER_SHARE * bottom.value)
    return apart > least
