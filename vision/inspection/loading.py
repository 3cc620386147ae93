"""Evidence about load and coil bind: tester readings brought to the asked height."""

from calib.quantity import Quantity, difference
from vision.inspection.evidence import BY_HAND, Candidate, Case, Evidence, sure
from vision.inspection.load import (
    LoadPoint,
    coil_bind_clearance,
    force_at_height,
    solid_height,
)
from vision.inspection.rates import Rate, find_rate, read_point
from vision.inspection.shim import Shim, shim_for_height, shim_for_load
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
    missing = why_no_force(read, rate, load.height_mm)
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
    """Gather the clearance: open height less this spring's own solid height.

    The specification's solid height says what a spring should have and nothing of
    this one, so it never decides.
    """
    opened, solid = open_height(case), _solid(case)
    candidates: tuple[Candidate, ...] = ()
    if opened and solid:
        candidates = (
            Candidate(
                value=coil_bind_clearance(opened[0], solid[0]),
                origin=f"from the {opened[1]} less the {solid[1]}",
                by_hand=case.hand(Instrument.SOLID_HEIGHT) is not None,
            ),
        )
    return Evidence(
        requirement=Requirement.COIL_BIND,
        limit=limit,
        candidates=candidates,
        missing=_why_no_clearance(case),
        remedy="measure the solid height by hand"
        if opened
        else "enter the installed height and give the lift in the specification",
        check="measure the solid height by hand",
        reject="do not fit it so: check installed height, shims and lift",
        conflict=_solid_conflict(case),
    )


def clearance(case: Case) -> Quantity | None:
    """Find the coil-bind clearance, if open and own solid height are known."""
    opened, solid = open_height(case), _solid(case)
    return coil_bind_clearance(opened[0], solid[0]) if opened and solid else None


def open_height(case: Case) -> tuple[Quantity, str] | None:
    """Find the height at full lift: the head's own, else the specification's."""
    asked, lift_mm = case.requirements, _lift(case)
    installed = case.hand(Instrument.INSTALLED_HEIGHT)
    if installed and lift_mm:
        height = difference(installed, sure(lift_mm, "mm"))
        return height, f"installed height {BY_HAND} less the lift"
    if asked.open:
        return sure(asked.open.height_mm, "mm"), "specified open height"
    if asked.closed and lift_mm:
        height_mm = asked.closed.height_mm - lift_mm
        return sure(height_mm, "mm"), "specified closed height less the lift"
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


def why_no_force(read: LoadPoint | None, rate: Rate | None, asked_mm: float) -> str:
    """Say why a tester reading gives no force at a height; '' where it does."""
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
    return f"replace it; {_serves(shim)}: {shim.text}"


def _serves(shim: Shim) -> str:
    if shim.usable:
        return "where it must serve"
    return "not to be cured by shims" if shim.ruled_out else "a shim might serve"


def _solid(case: Case) -> tuple[Quantity, str] | None:
    hand = case.hand(Instrument.SOLID_HEIGHT)
    if hand:
        return hand, f"solid height {BY_HAND}"
    return _solid_by_shape(case)


def _solid_by_shape(case: Case) -> tuple[Quantity, str] | None:
    """Compute coils times wire, the wire by caliper where that is surer."""
    coils = case.photo(Characteristic.TOTAL_COILS)
    wires = (
        (case.photo(Characteristic.WIRE_DIAMETER), "coils and wire in the photo"),
        (
            case.hand(Instrument.CALIPER_WIRE),
            "coils in the photo and wire by caliper",
        ),
    )
    known = [(wire.expanded, wire, origin) for wire, origin in wires if wire]
    if coils is None or not known:
        return None
    _, wire, origin = min(known, key=lambda each: each[0])
    solid = solid_height(wire, coils, ground=True)
    return solid, f"solid height by {origin}"


def _solid_conflict(case: Case) -> str:
    """Compare a solid height by hand or as specified with the shape; more is worse."""
    shape, hand = _solid_by_shape(case), case.hand(Instrument.SOLID_HEIGHT)
    specified_mm = case.requirements.solid_height_mm
    held, name = hand, "solid height by hand"
    if held is None and specified_mm:
        held, name = sure(specified_mm, "mm"), "specified solid height"
    if held is None or shape is None:
        return ""
    excess = difference(shape[0], held)
    if excess.value <= excess.expanded:
        return ""
    return f"coils times wire are {say(shape[0])}, more than the {name} {say(held)}"


def _why_no_clearance(case: Case) -> str:
    opened, specified_mm = open_height(case), case.requirements.solid_height_mm
    if opened is None:
        return "no open height"
    if not specified_mm:
        return "no solid height"
    left = coil_bind_clearance(opened[0], sure(specified_mm, "mm"))
    return (
        f"the specified solid height would leave {say(left)}, but this spring's own "
        "is not known"
    )


def _lift(case: Case) -> float | None:
    asked = case.requirements
    if asked.lift_mm:
        return asked.lift_mm
    if asked.closed and asked.open:
        return asked.closed.height_mm - asked.open.height_mm
    return None
