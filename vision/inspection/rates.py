"""A spring's rate from the surest source at hand, and forces as read on a tester."""

from dataclasses import dataclass

from calib.quantity import COVERAGE_FACTOR, Influence, Quantity
from vision.inspection.drawn import asked_rate, middle
from vision.inspection.evidence import Case, best_height
from vision.inspection.hand import last_reading
from vision.inspection.load import Coil, LoadPoint, rate_from_geometry, rate_from_loads
from vision.inspection.materials import MATERIALS, modulus
from vision.records.judged import Instrument
from vision.records.measured import Characteristic

HEIGHT_SETTING_MM = 0.1  # U of the height set on a tester; common practice
MAKER_RATE_SHARE = 0.10  # U of a catalogue rate; common practice
ROUGH_RATE_SHARE = 0.20  # U of force over travel: ends close up
OWN_MODULUS_SHARE = 0.01  # U of a modulus that the file gives


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A rate and where it comes from."""

    value: Quantity
    origin: str


def find_rate(case: Case) -> Rate | None:
    """Find the rate: by its own loads, else the maker's, its shape, or roughly."""
    closed, opened = (
        read_point(case, Instrument.CLOSED_FORCE),
        read_point(case, Instrument.OPEN_FORCE),
    )
    own = rate_from_loads(closed, opened) if closed and opened else None
    if own:
        return Rate(value=own, origin="its own two loads")
    return _maker_rate(case) or shape_rate(case) or _rough_rate(case, closed or opened)


def read_point(case: Case, tool: Instrument) -> LoadPoint | None:
    """Find the last force read, with the uncertainty of the height set."""
    reading, force = last_reading(case.readings, tool), case.hand(tool)
    if reading is None or force is None or reading.set_height_mm is None:
        return None
    setting = Influence(
        source=f"height set for {tool.key} of spring {case.position}",
        label="height set on the tester",
        u=HEIGHT_SETTING_MM / COVERAGE_FACTOR,
    )
    height = Quantity(value=reading.set_height_mm, unit="mm", influences=(setting,))
    return LoadPoint(height=height, force=force)


def _maker_rate(case: Case) -> Rate | None:
    asked = case.requirements
    if rate := middle(asked.rate):
        return Rate(
            value=_shared("maker's rate", rate, MAKER_RATE_SHARE),
            origin="the specification",
        )
    own = asked_rate(asked)
    if own is None:
        return None
    return Rate(
        value=_shared("maker's rate", own.value, MAKER_RATE_SHARE),
        origin="the specification's two loads",
    )


def find_coil(case: Case) -> Coil | None:
    """Take the coil's shape from the photo, with the modulus that the file tells."""
    outside, modulus_mpa = case.photo(Characteristic.OUTSIDE_DIAMETER), _modulus(case)
    wire, coils = (
        case.photo(Characteristic.WIRE_DIAMETER),
        case.photo(Characteristic.TOTAL_COILS),
    )
    if not (wire and coils and outside and modulus_mpa):
        return None
    return Coil(
        wire=wire,
        bottom=case.photo(Characteristic.BOTTOM_DIAMETER) or outside,
        top=case.photo(Characteristic.TOP_DIAMETER) or outside,
        total_coils=coils,
        shear_modulus=modulus_mpa,
    )


def shape_rate(case: Case) -> Rate | None:
    """Compute the rate from the shape, where the material is known."""
    coil = find_coil(case)
    rate = rate_from_geometry(coil) if coil else None
    return Rate(value=rate, origin="its shape in the photo") if rate else None


def _modulus(case: Case) -> Quantity | None:
    own_mpa = case.requirements.shear_modulus_mpa
    if own_mpa:
        return modulus("the specification", own_mpa, OWN_MODULUS_SHARE * own_mpa)
    material = MATERIALS.get(case.requirements.material or "")
    return material.shear_modulus if material else None


def _rough_rate(case: Case, read: LoadPoint | None) -> Rate | None:
    """Take force over travel from the free height, where nothing better is known."""
    free = best_height(case)
    if read is None or free is None or free.value <= read.height.value:
        return None
    rate = read.force.value / (free.value - read.height.value)
    return Rate(
        value=_shared(f"rough rate of spring {case.position}", rate, ROUGH_RATE_SHARE),
        origin="force and free height, roughly",
    )


def _shared(source: str, value: float, share: float) -> Quantity:
    part = Influence(source=source, label=source, u=share * value / COVERAGE_FACTOR)
    return Quantity(value=value, unit="N/mm", influences=(part,))
