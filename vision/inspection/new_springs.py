"""What a new spring of the specified shape is allowed, in words; it decides nothing."""

from collections.abc import Iterator

from vision.inspection.drawn import find_design, middle
from vision.inspection.tolerances import (
    JIS_SQUARENESS_SHARE,
    PARALLELISM_SHARE,
    SQUARENESS_SHARE,
    Design,
    diameter_tolerance_mm,
    force_tolerance_n,
    handbook_length_tolerance_mm,
    handbook_squareness_deg,
    jis_length_tolerance_mm,
    length_tolerance_mm,
)
from vision.inspection.wording import say_number
from vision.records.judged import Requirements

GRADE = 2  # the usual one of three


def describe_new_spring(asked: Requirements) -> Iterator[str]:
    """Tell what standards and handbook allow a new spring, for comparison."""
    design = find_design(asked)
    for name, parts in (
        ("after EN 15800 grade 2 (from memory)", _by_standard(asked, design)),
        ("JIS B 2707", _by_jis(asked)),
        ("Machinery's Handbook, 31st ed.", _by_handbook(asked, design)),
    ):
        said = ", ".join(parts)
        if said:
            yield f"new springs, {name}: {said}"


def _by_standard(asked: Requirements, design: Design | None) -> Iterator[str]:
    height_mm, outside_mm = middle(asked.free_height), middle(asked.outside_diameter)
    if asked.squareness and height_mm:
        yield f"e1 to {say_number(SQUARENESS_SHARE[GRADE] * height_mm, 'mm')}"
    if outside_mm:
        yield f"e2 to {say_number(PARALLELISM_SHARE[GRADE] * outside_mm, 'mm')}"
    coil = _coil(asked)
    across_mm = diameter_tolerance_mm(*coil, GRADE) if coil else None
    if across_mm:
        yield f"mean diameter ± {say_number(across_mm, 'mm')}"
    if design is None:
        return
    if height_mm and not (asked.closed and asked.open):
        length_mm = length_tolerance_mm(design, GRADE)
        yield f"free height ± {say_number(length_mm, 'mm')}"
    for name, load in (("closed", asked.closed), ("open", asked.open)):
        force_n = middle(load.force) if load else None
        if force_n:
            within_n = force_tolerance_n(design, force_n, GRADE)
            yield f"{name} load ± {say_number(within_n, 'N')}"


def _by_jis(asked: Requirements) -> Iterator[str]:
    height_mm, coil = middle(asked.free_height), _coil(asked)
    if asked.squareness and height_mm:
        fine_mm, usual_mm = (JIS_SQUARENESS_SHARE[at] * height_mm for at in (1, GRADE))
        yield (
            f"e1 to {say_number(fine_mm, 'mm')} of grade 1, "
            f"{say_number(usual_mm, 'mm')} of grade 2"
        )
    if height_mm and coil and not (asked.closed or asked.open):
        length_mm = jis_length_tolerance_mm(height_mm, coil[1], GRADE)
        yield f"free height ± {say_number(length_mm, 'mm')} of grade 2"


def _by_handbook(asked: Requirements, design: Design | None) -> Iterator[str]:
    height_mm, coil = middle(asked.free_height), _coil(asked)
    if height_mm is None or coil is None:
        return
    mean_mm, index = coil
    if asked.squareness:
        lean_deg = handbook_squareness_deg(height_mm / mean_mm, index)
        yield f"square to {say_number(lean_deg, 'deg')} (p. 331, table 10)"
    if design:
        length_mm = handbook_length_tolerance_mm(height_mm, design.active, index)
        yield f"free height ± {say_number(length_mm, 'mm')} (p. 330, table 8)"


def _coil(asked: Requirements) -> tuple[float, float] | None:
    """Find the mean diameter in mm and the index D / d."""
    outside_mm, wire_mm = middle(asked.outside_diameter), middle(asked.wire_diameter)
    if not (outside_mm and wire_mm) or outside_mm <= 2.0 * wire_mm:
        return None
    return outside_mm - wire_mm, outside_mm / wire_mm - 1.0
