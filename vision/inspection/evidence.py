"""What speaks for or against a spring: values by origin, held to one requirement each.

Nothing is decided here; verdict.py decides.
"""

from dataclasses import dataclass, replace
from math import atan, degrees
from types import MappingProxyType

from calib.quantity import Influence, Quantity, combined, difference
from vision.inspection.hand import last_reading, reading_quantity
from vision.inspection.wording import say
from vision.records.judged import Instrument, Limit, Reading, Requirement, Requirements
from vision.records.measured import Characteristic, SpringMeasurement, Unmeasured

BOTH_VIEWS = 2
BY_HAND = "entered by hand"
CUSTOMARY = " with a customary uncertainty"
READ_WITH = MappingProxyType(
    {
        Instrument.CALIPER_HEIGHT: "by caliper",
        Instrument.SQUARE_GAP: "by square and feeler gauge",
        Instrument.CLOSED_FORCE: "on the tester",
        Instrument.OPEN_FORCE: "on the tester",
        Instrument.SOLID_HEIGHT: "measured solid",
        Instrument.INSTALLED_HEIGHT: "measured in the head",
        Instrument.CALIPER_OUTSIDE: "by caliper",
        Instrument.CALIPER_WIRE: "by caliper",
    }
)
"""How a sentence says where a value came from."""
TURN = "turn it a quarter turn and photograph again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Everything known of one spring."""

    measured: SpringMeasurement | Unmeasured
    requirements: Requirements
    readings: tuple[Reading, ...]

    @property
    def position(self) -> int:
        """Place in the row, 1 leftmost."""
        return self.measured.position

    def photo(self, characteristic: Characteristic) -> Quantity | None:
        """Find a value that the picture gave."""
        if isinstance(self.measured, Unmeasured):
            return None
        return self.measured.values.get(characteristic)

    def hand(self, instrument: Instrument) -> Quantity | None:
        """Find the last value read with an instrument."""
        reading = last_reading(self.readings, instrument)
        return None if reading is None else reading_quantity(reading, self.position)

    def hand_origin(self, instrument: Instrument) -> str:
        """Say how a value was read, by hand, and whether its U is customary only."""
        reading = last_reading(self.readings, instrument)
        customary = CUSTOMARY if reading and reading.assumed else ""
        return f"{READ_WITH[instrument]}, {BY_HAND}{customary}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A value that may decide; ``partial`` sees only part of it, so it can only reject.

    ``origin`` follows the value in a sentence: 'by photo'. ``by_hand`` marks a value
    that somebody read.
    """

    value: Quantity
    origin: str
    by_hand: bool = False
    partial: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All about one requirement.

    ``missing`` and ``remedy`` say what to do where there is no value; ``conflict`` that
    two values contradict; ``check`` what to do where it is too close; ``reject`` what a
    rejected spring needs.
    """

    requirement: Requirement
    limit: Limit | None
    candidates: tuple[Candidate, ...]
    missing: str
    remedy: str
    check: str
    reject: str = "replace it"
    conflict: str = ""


def height_evidence(case: Case, limit: Limit) -> Evidence:
    """Gather the free height from photo and caliper."""
    photo, hand = (
        case.photo(Characteristic.FREE_HEIGHT),
        case.hand(Instrument.CALIPER_HEIGHT),
    )
    return Evidence(
        requirement=Requirement.FREE_HEIGHT,
        limit=limit,
        candidates=_candidates(case, photo, Instrument.CALIPER_HEIGHT),
        missing=_unmeasured(case, "no free height"),
        remedy="photograph it again or measure it with a caliper",
        check="measure it with a caliper or a height gauge",
        conflict=_conflict(photo, hand),
    )


def squareness_evidence(case: Case, limit: Limit) -> Evidence:
    """Gather squareness in the limit's own unit from photo and hand square."""
    angular = limit.unit == "deg"
    photo = _size(
        case.photo(Characteristic.LEAN if angular else Characteristic.SQUARENESS)
    )
    one_view = photo is not None and not _both_views(case)
    hand = _hand_lean(case) if angular else case.hand(Instrument.SQUARE_GAP)
    found = [
        Candidate(
            value=photo,
            origin="by photo, one view" if one_view else "by photo",
            partial=one_view,
        )
        if photo
        else None,
        Candidate(
            value=hand, origin=case.hand_origin(Instrument.SQUARE_GAP), by_hand=True
        )
        if hand
        else None,
    ]
    by_hand = "check it with square and feeler gauge, turned to its worst"
    return Evidence(
        requirement=Requirement.SQUARENESS,
        limit=limit,
        candidates=tuple(each for each in found if each),
        missing=_unmeasured(case, "no squareness"),
        remedy=f"photograph it again or {by_hand}",
        check=TURN if one_view and hand is None else by_hand,
        conflict=_conflict(photo, hand, partial=one_view),
    )


def diameter_evidence(case: Case, requirement: Requirement, limit: Limit) -> Evidence:
    """Gather outside or wire diameter from photo and caliper."""
    outside = requirement is Requirement.OUTSIDE_DIAMETER
    characteristic = (
        Characteristic.OUTSIDE_DIAMETER if outside else Characteristic.WIRE_DIAMETER
    )
    tool = Instrument.CALIPER_OUTSIDE if outside else Instrument.CALIPER_WIRE
    photo = case.photo(characteristic)
    return Evidence(
        requirement=requirement,
        limit=limit,
        candidates=_candidates(case, photo, tool),
        missing=_unmeasured(case, f"no {requirement.text}"),
        remedy="measure it with a caliper",
        check="measure it with a caliper or a micrometer",
        reject="find out whether it is the right spring; replace it",
        conflict=_conflict(photo, case.hand(tool)),
    )


def best_height(case: Case) -> Quantity | None:
    """Find the free height: the photo's, else the caliper's."""
    photo = case.photo(Characteristic.FREE_HEIGHT)
    return photo or case.hand(Instrument.CALIPER_HEIGHT)


def sure(value: float, unit: str) -> Quantity:
    """Take a figure of the specification as it stands."""
    return Quantity(value=value, unit=unit, influences=())


def _candidates(
    case: Case, photo: Quantity | None, tool: Instrument
) -> tuple[Candidate, ...]:
    hand = case.hand(tool)
    by_photo = [Candidate(value=photo, origin="by photo")] if photo else []
    by_hand = (
        [Candidate(value=hand, origin=case.hand_origin(tool), by_hand=True)]
        if hand
        else []
    )
    return (*by_photo, *by_hand)


def _conflict(
    photo: Quantity | None, hand: Quantity | None, *, partial: bool = False
) -> str:
    """Compare photo and hand beyond their joint U; a partial photo only upwards."""
    if photo is None or hand is None:
        return ""
    gap = difference(photo, hand)
    apart = gap.value if partial else abs(gap.value)
    if apart <= gap.expanded:
        return ""
    return f"{say(photo)} by photo and {say(hand)} {BY_HAND} contradict each other"


def _both_views(case: Case) -> bool:
    return isinstance(case.measured, SpringMeasurement) and (
        case.measured.views >= BOTH_VIEWS
    )


def _unmeasured(case: Case, otherwise: str) -> str:
    if isinstance(case.measured, Unmeasured):
        return f"not measured: it {case.measured.reason.value}"
    return f"{otherwise} in the photo"


def _size(quantity: Quantity | None) -> Quantity | None:
    """Take the size of a signed value."""
    if quantity is None or quantity.value >= 0.0:
        return quantity
    return Quantity(
        value=-quantity.value,
        unit=quantity.unit,
        influences=tuple(_turned(part) for part in quantity.influences),
    )


def _turned(part: Influence) -> Influence:
    return replace(part, u=-part.u)


def _hand_lean(case: Case) -> Quantity | None:
    """Turn a gap at the square into a lean: atan(gap / reach).

    The blade meets the end coils at their widest, one wire apart from L0 together.
    """
    gap, height = case.hand(Instrument.SQUARE_GAP), best_height(case)
    if gap is None or height is None:
        return None
    wire = case.photo(Characteristic.WIRE_DIAMETER) or case.hand(
        Instrument.CALIPER_WIRE
    )
    reach = difference(height, wire) if wire else height
    square = reach.value**2 + gap.value**2
    terms = [
        (degrees(reach.value / square), gap),
        (degrees(-gap.value / square), reach),
    ]
    return combined(degrees(atan(gap.value / reach.value)), "deg", terms)
