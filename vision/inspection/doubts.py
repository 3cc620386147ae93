"""Doubts about a specification: what looks like a misprint, with both figures.

A doubt never refuses a file; the person at the bench looks at the manual again. The
limits of practice follow published service data for valve springs (common practice).
"""

from collections.abc import Callable, Iterator
from itertools import pairwise
from math import atan, degrees, radians, tan

from vision.inspection.bands import Sheet
from vision.inspection.facts import Facts, collect_facts
from vision.inspection.units import Dimension, Given

SHORTFALL_MM = (-0.5, 2.0)  # L0 from two loads, short of the real one; common practice
LEAN_DEG = (1.0, 3.0)  # squareness limits; common practice
FREE_HEIGHT_MM = (15.0, 150.0)  # valve springs; common practice
CLOSED_FORCE_N = (40.0, 2500.0)  # valve springs; common practice
SPRING_INDEX = (4.0, 20.0)  # (De - d) / d; scope of EN 15800
SPREAD_MM = 3.0  # above the 1 mm or 1/16 in of common practice
CONVERSION_SHARE = 0.15  # makers' mm and deg limits are no exact conversions
LIFT_MM = 0.5  # closed minus open height against the lift
RATE_SHARE = 0.1  # catalogue rates; common practice
JUDGED = frozenset(
    {
        "free_height",
        "closed_load",
        "open_load",
        "pair_closed_load",
        "pair_open_load",
        "outside_diameter",
        "wire_diameter",
    }
)
DECIDING = frozenset({"min", "max", "limit", "tolerance", "loss_max"})


def find_doubts(sheets: tuple[Sheet, ...], common: Sheet) -> tuple[str, ...]:
    """Look for misprints in every kind; what all kinds share is said once.

    ``common`` holds the sections at the top of the file.
    """
    found: dict[str, list[str]] = {}
    for text in (*_pairs(common), *_matching(common)):
        found.setdefault(text, []).append("")
    for sheet in sheets:
        for text in _look(sheet):
            found.setdefault(text, []).append(sheet.kind)
    return tuple(
        text
        if "" in kinds or len(kinds) == len(sheets)
        else f"{', '.join(kinds)}: {text}"
        for text, kinds in found.items()
    )


def _look(sheet: Sheet) -> Iterator[str]:
    facts = collect_facts(sheet)
    yield from _pairs(sheet)
    yield from _bands(sheet)
    yield from _squareness(sheet, facts)
    for check in CHECKS:
        yield from check(facts)


def _pairs(sheet: Sheet) -> Iterator[str]:
    """Compare values that are given in two units."""
    for section, values in sheet.values.items():
        for key, given in values.items():
            second = given.beside
            if second is None or second.dimension is not given.dimension:
                continue
            # A whole last digit on each side: some tables cut instead of rounding.
            allowed = given.digit + second.digit + 1e-6
            if abs(given.value - second.value) > allowed:
                yield (
                    f"{section} {key} {given.text}: {second.text} is "
                    f"{second.value:.2f} {second.unit} and not {given.value:.2f} "
                    f"{given.unit}, which is used"
                )


def _bands(sheet: Sheet) -> Iterator[str]:
    """Look at each band by itself: undecided, or nominal outside its own limits."""
    for section, values in sheet.values.items():
        nominal = values.get("nominal") or values.get("force")
        low, high, worn = values.get("min"), values.get("max"), values.get("limit")
        if nominal and low and nominal.value < low.value:
            yield f"{section}: nominal {nominal.text} is below min {low.text}"
        if nominal and high and nominal.value > high.value:
            yield f"{section}: nominal {nominal.text} is above max {high.text}"
        newest = low or nominal
        if section != "squareness" and newest and worn and worn.value > newest.value:
            yield f"{section}: wear limit {worn.text} is above {newest.text}"
        if section in JUDGED and not DECIDING & set(values):
            yield f"{section}: no limits are given, so it cannot be judged"


def _squareness(sheet: Sheet, facts: Facts) -> Iterator[str]:
    """Hold squareness against practice, and mm against deg where both are given."""
    height_mm = facts.free.middle if facts.free else None
    for key, given in sheet.values.get("squareness", {}).items():
        lean = _lean_deg(given, height_mm)
        if lean is not None and not LEAN_DEG[0] <= lean <= LEAN_DEG[1]:
            yield (
                f"squareness {key} {given.text} is {lean:.2f} deg; practice is "
                f"{LEAN_DEG[0]:g} to {LEAN_DEG[1]:g} deg"
            )
        if given.beside and height_mm and given.beside.dimension != given.dimension:
            yield from _two_kinds(key, given, given.beside, height_mm)


def _lean_deg(given: Given, height_mm: float | None) -> float | None:
    if given.dimension is Dimension.ANGLE:
        return given.value
    return degrees(atan(given.value / height_mm)) if height_mm else None


def _two_kinds(
    key: str, given: Given, beside: Given, height_mm: float
) -> Iterator[str]:
    angled = given.dimension is Dimension.ANGLE
    angle, length = (given, beside) if angled else (beside, given)
    expected_mm = height_mm * tan(radians(angle.value))
    blur_mm = length.digit + height_mm * tan(radians(angle.digit / 2.0))
    if abs(length.value - expected_mm) > blur_mm + CONVERSION_SHARE * expected_mm:
        yield (
            f"squareness {key} {given.text}: {angle.value:g} deg over "
            f"{height_mm:.2f} mm is {expected_mm:.2f} mm and not {length.value:.2f} mm"
        )


def _heights(facts: Facts) -> Iterator[str]:
    """Free, closed, open and solid height must fall in this order."""
    names = ("free", "closed", "open", "solid")
    free = facts.free.low if facts.free else None
    heights = (free, facts.closed, facts.open, facts.solid)
    known = [
        (name, height)
        for name, height in zip(names, heights, strict=True)
        if height is not None
    ]
    for (upper, high), (lower, low) in pairwise(known):
        if low >= high:
            yield (
                f"{lower} height {low:.2f} mm is not below {upper} height {high:.2f} mm"
            )


def _falling_load(facts: Facts) -> Iterator[str]:
    first, second = facts.closed_force, facts.open_force
    if first and second and second.middle <= first.middle:
        yield (
            f"open load {second.middle:.1f} N is not above closed load "
            f"{first.middle:.1f} N: load would fall with compression"
        )


def _implied_height(facts: Facts) -> Iterator[str]:
    """Hold the free height that the two loads imply against the stated one."""
    free, first, second = facts.free, facts.closed_force, facts.open_force
    if not (free and first and second and facts.closed and facts.open):
        return
    if facts.open >= facts.closed or second.low <= first.high:
        return
    # L0 = L1 + F1 / R with R = (F2 - F1) / (L1 - L2), over the corners of both bands.
    travel_mm = facts.closed - facts.open
    corners = [
        facts.closed + f1 * travel_mm / (f2 - f1)
        for f1 in (first.low, first.middle, first.high)
        for f2 in (second.low, second.middle, second.high)
    ]
    least, most = free.low - max(corners), free.high - min(corners)
    if least > SHORTFALL_MM[1] or most < SHORTFALL_MM[0]:
        yield (
            f"the two loads imply a free height of {corners[4]:.2f} mm, the file says "
            f"{free.middle:.2f} mm; in practice the implied one is 0.5 to 2 mm short"
        )


def _practice(facts: Facts) -> Iterator[str]:
    """Hold free height and closed load against what valve springs have."""
    free, force = facts.free, facts.closed_force
    if free and not FREE_HEIGHT_MM[0] <= free.middle <= FREE_HEIGHT_MM[1]:
        yield (
            f"free height {free.middle:.2f} mm is unlike a valve spring; practice is "
            f"{FREE_HEIGHT_MM[0]:g} to {FREE_HEIGHT_MM[1]:g} mm"
        )
    if force and not CLOSED_FORCE_N[0] <= force.middle <= CLOSED_FORCE_N[1]:
        yield (
            f"closed load {force.middle:.1f} N is unlike a valve spring; practice is "
            f"{CLOSED_FORCE_N[0]:g} to {CLOSED_FORCE_N[1]:g} N: is daN or kgf meant?"
        )


def _index(facts: Facts) -> Iterator[str]:
    """Hold wire against outside diameter."""
    if not (facts.outside and facts.wire):
        return
    wire_mm, outside_mm = facts.wire.middle, facts.outside.middle
    index = (outside_mm - wire_mm) / wire_mm
    if not SPRING_INDEX[0] <= index <= SPRING_INDEX[1]:
        yield (
            f"wire {wire_mm:.2f} mm in a spring {outside_mm:.2f} mm wide is a spring "
            f"index of {index:.1f}; springs have {SPRING_INDEX[0]:g} to "
            f"{SPRING_INDEX[1]:g}"
        )


def _lift(facts: Facts) -> Iterator[str]:
    """Hold the lift against closed and open height."""
    if not (facts.lift and facts.closed and facts.open):
        return
    expected_mm = facts.closed - facts.lift
    if abs(expected_mm - facts.open) > LIFT_MM:
        yield (
            f"closed height less lift is {expected_mm:.2f} mm, open height is "
            f"{facts.open:.2f} mm"
        )


def _coil_bind(facts: Facts) -> Iterator[str]:
    """Name what coil bind still needs, or that its own figures do not keep it."""
    if facts.solid and facts.clearance is None:
        yield "coil_bind: no clearance_min; common practice is at least 1.5 mm"
    if facts.clearance is None:
        return
    if facts.open is None and facts.lift is None:
        yield "coil_bind: no open_load height and no valve lift, so no open height"
    if facts.solid and facts.open and 0 < facts.open - facts.solid < facts.clearance:
        yield (
            f"open height less solid height leaves {facts.open - facts.solid:.2f} mm, "
            f"clearance_min asks {facts.clearance:.2f} mm"
        )


def _rate(facts: Facts) -> Iterator[str]:
    """Hold the rate times the travel to closed height against the closed load."""
    free, rate, force, closed = facts.free, facts.rate, facts.closed_force, facts.closed
    if not (free and rate and force and closed) or closed >= free.low:
        return
    # The free height that counts may be short of the real one: ends close up.
    least = (1.0 - RATE_SHARE) * rate.low * (free.low - closed - SHORTFALL_MM[1])
    most = (1.0 + RATE_SHARE) * rate.high * (free.high - closed)
    if least > force.high or most < force.low:
        yield (
            f"rate times travel to closed height is "
            f"{rate.middle * (free.middle - closed):.1f} N, closed load is "
            f"{force.middle:.1f} N"
        )


def _matching(sheet: Sheet) -> Iterator[str]:
    spread = sheet.number("matching", "spread_max")
    width = sheet.number("matching", "group_width")
    if spread and spread > SPREAD_MM:
        yield f"spread_max {spread:.2f} mm is wide; common practice is 1 to 1.6 mm"
    if spread and width and width > spread:
        yield f"group_width {width:.2f} mm is above spread_max {spread:.2f} mm"


CHECKS: tuple[Callable[[Facts], Iterator[str]], ...] = (
    _heights,
    _falling_load,
    _implied_height,
    _practice,
    _index,
    _lift,
    _coil_bind,
    _rate,
)
