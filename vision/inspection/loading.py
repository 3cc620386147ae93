"""Evidence about load and coil bind: tester readings brought to the asked height."""

from calib.quantity import Quantity, difference
from vision.inspection.evidence import Candidate, Case, Evidence, sure
from vision.inspection.load import (
    LoadPoint,
    coil_bind_clearance,
    force_at_height,
    solid_height,
)
from vision.inspection.rates import Rate, find_rate, read_point
from vision.inspection.shim import shim_for_height, shim_for_load
from vision.inspection.wording import say, say_number
from vision.records.judged import Instrument, Limit, Load, Requirement
from vision.records.measured import Characteristic

MOST_CORRECTION_MM = 2.0  # farther off, one rate no longer serves


def load_evidence(case: Case, requirement: Requirement, load: Load) -> Evidence:
    """Gather a tester force and bring it to the height asked for."""
    closed = requirement is Requirement.CLOSED_LOAD
    tool = Instrument.CLOSED_FORCE if closed else Instrument.OPEN_FORCE
    height = say_number(load.height_mm, "mm")
    read, rate = read_point(case, tool), find_rate(case)
    missing = _why_no_force(read, rate, load.height_mm)
    candidates: tuple[Candidate, ...] = ()
    if read and rate and not missing:
        force = force_at_height(read, load.height_mm, rate.value)
        origin = case.hand_origin(tool) + _correction(read, load.height_mm, rate)
        candidates = (Candidate(value=force, origin=origin, by_hand=True),)
    return Evidence(
        requirement=requirement,
        limit=load.force,
        candidates=candidates,
        missing=missing,
        remedy=f"read the force at {height} on the tester",
        check=f"read the force again at exactly {height}, or with a finer tester",
        reject=_replace_or_shim(case, load, candidates, rate)
        if closed
        else "replace it",
    )


def coil_bind_evidence(case: Case, limit: Limit | None) -> Evidence:
    """Gather the clearance: open height less solid height."""
    opened, solid = open_height(case), _solid(case)
    candidates: tuple[Candidate, ...] = ()
    if opened and solid:
        candidates = (
            Candidate(
                value=coil_bind_clearance(opened[0], solid[0]),
                origin=f"{opened[1]} less {solid[1]}",
                by_hand=True,
            ),
        )
    return Evidence(
        requirement=Requirement.COIL_BIND,
        limit=limit,
        candidates=candidates,
        missing="no solid height" if opened else "no open height",
        remedy="measure the solid height"
        if opened
        else "enter the installed height and give the lift in the specification",
        check="measure the solid height of this spring",
        reject="do not fit it so: check installed height, shims and lift",
        conflict=_solid_conflict(case),
    )


def clearance(case: Case) -> Quantity | None:
    """Find the coil-bind clearance, if open and solid height are known."""
    opened, solid = open_height(case), _solid(case)
    return coil_bind_clearance(opened[0], solid[0]) if opened and solid else None


def open_height(case: Case) -> tuple[Quantity, str] | None:
    """Find the height at full lift: the head's own, else the specification's."""
    asked, lift_mm = case.requirements, _lift(case)
    installed = case.hand(Instrument.INSTALLED_HEIGHT)
    if installed and lift_mm:
        height = difference(installed, sure(lift_mm, "mm"))
        return height, "installed height, hand-entered, less lift"
    if asked.open:
        return sure(asked.open.height_mm, "mm"), "specified open height"
    if asked.closed and lift_mm:
        height_mm = asked.closed.height_mm - lift_mm
        return sure(height_mm, "mm"), "specified closed height less lift"
    return None


def installed_advice(case: Case) -> str:
    """Say which shim brings the head's installed height down; '' where none does."""
    installed = case.hand(Instrument.INSTALLED_HEIGHT)
    closed = case.requirements.closed
    if installed is None or closed is None:
        return ""
    shim = shim_for_height(installed, sure(closed.height_mm, "mm"), clearance(case))
    if shim is None:
        return ""
    return (
        f"installed height {say(installed)} is above the specified "
        f"{say_number(closed.height_mm, 'mm')}: {shim.text}"
    )


def _why_no_force(read: LoadPoint | None, rate: Rate | None, asked_mm: float) -> str:
    if read is None:
        return "no force read at a known height"
    over_mm = read.height.value - asked_mm
    where = f"read at {say_number(read.height.value, 'mm')}"
    if abs(over_mm) > MOST_CORRECTION_MM:
        return f"{where}, more than {MOST_CORRECTION_MM:g} mm off"
    return "" if rate else f"{where}, and no rate brings it to the height asked for"


def _correction(read: LoadPoint, asked_mm: float, rate: Rate) -> str:
    if read.height.value == asked_mm:
        return ""
    return (
        f", brought from {say_number(read.height.value, 'mm')} with "
        f"{say(rate.value)} from {rate.origin}"
    )


def _replace_or_shim(
    case: Case, load: Load, candidates: tuple[Candidate, ...], rate: Rate | None
) -> str:
    """Offer the shim that restores a low closed load, with what speaks against it."""
    target = load.force.nominal or load.force.new_minimum or load.force.minimum
    if not candidates or rate is None or target is None:
        return "replace it"
    missing = difference(sure(target, "N"), candidates[0].value)
    shim = shim_for_load(missing, rate.value, clearance(case))
    if shim is None:
        return "replace it"
    serve = "where it must serve" if shim.usable else "not to be cured by shims"
    return f"replace it; {serve}: {shim.text}"


def _solid(case: Case) -> tuple[Quantity, str] | None:
    hand = case.hand(Instrument.SOLID_HEIGHT)
    if hand:
        return hand, case.hand_origin(Instrument.SOLID_HEIGHT)
    if case.requirements.solid_height_mm:
        return sure(case.requirements.solid_height_mm, "mm"), "specified solid height"
    shape = _solid_by_shape(case)
    return (shape, "solid height by coils and wire in the photo") if shape else None


def _solid_by_shape(case: Case) -> Quantity | None:
    wire, coils = (
        case.photo(Characteristic.WIRE_DIAMETER),
        case.photo(Characteristic.TOTAL_COILS),
    )
    return solid_height(wire, coils, ground=True) if wire and coils else None


def _solid_conflict(case: Case) -> str:
    """Compare the solid height in use with coils times wire; only more is worse."""
    used, shape = _solid(case), _solid_by_shape(case)
    if used is None or shape is None:
        return ""
    excess = difference(shape, used[0])
    if excess.value <= excess.expanded:
        return ""
    return f"coils times wire are {say(shape)}, more than the {used[1]} {say(used[0])}"


def _lift(case: Case) -> float | None:
    asked = case.requirements
    if asked.lift_mm:
        return asked.lift_mm
    if asked.closed and asked.open:
        return asked.closed.height_mm - asked.open.height_mm
    return None
