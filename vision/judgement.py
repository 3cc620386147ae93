"""A measured row, a specification and hand entries in; a judged inspection out.

No picture is touched here, so a correction of places, findings or readings is judged
again without measuring anything anew.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from vision.inspection.matching import compare_set
from vision.inspection.places import assign_kinds, find_kind
from vision.inspection.verdict import judge_spring
from vision.records.judged import (
    Findings,
    Reading,
    Requirements,
    SetResult,
    Specification,
    SpringVerdict,
)
from vision.records.kept import Inspection, Job, Place
from vision.records.measured import Characteristic, Row, SpringMeasurement

NOT_LOOKED = Findings()

if TYPE_CHECKING:
    from calib.quantity import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class HandEntries:
    """What a person adds to a row; all go by position, 1 leftmost."""

    places: Mapping[int, Place] = field(default_factory=dict)
    findings: Mapping[int, Findings] = field(default_factory=dict)
    readings: Mapping[int, tuple[Reading, ...]] = field(default_factory=dict)


def inspect_row(
    row: Row,
    job: Job,
    specification: Specification | None,
    entries: HandEntries,
    version: str,
) -> Inspection:
    """Judge every spring and hold each kind of spring against itself.

    Raises
    ------
    SpecError
        When the specification asks nothing of a place, or cannot tell without places.
    """
    places = dict(entries.places)
    if specification is not None:
        places = assign_kinds(places, specification)
    asked = {
        spring.position: find_kind(specification, places.get(spring.position))
        if specification is not None
        else None
        for spring in row.springs
    }
    return Inspection(
        job=job,
        row=row,
        specification=specification,
        places=places,
        findings=dict(entries.findings),
        readings=dict(entries.readings),
        verdicts=tuple(_verdicts(row, asked, places, entries)),
        sets=_sets(row, asked, places, specification),
        program_version=version,
    )


def _verdicts(
    row: Row,
    asked: Mapping[int, Requirements | None],
    places: Mapping[int, Place],
    entries: HandEntries,
) -> list[SpringVerdict]:
    return [
        judge_spring(
            spring,
            asked[spring.position],
            entries.findings.get(spring.position, NOT_LOOKED),
            entries.readings.get(spring.position, ()),
            places[spring.position].text if spring.position in places else "",
        )
        for spring in row.springs
    ]


def _sets(
    row: Row,
    asked: Mapping[int, Requirements | None],
    places: Mapping[int, Place],
    specification: Specification | None,
) -> tuple[SetResult, ...]:
    """One set for each kind of spring, in the order of the row."""
    heights: dict[str, dict[int, Quantity]] = {}
    for spring in row.springs:
        if not isinstance(spring, SpringMeasurement):
            continue
        place, held_to = places.get(spring.position), asked[spring.position]
        kind = place.kind if place else (held_to.kind if held_to else "")
        height = spring.values[Characteristic.FREE_HEIGHT]
        heights.setdefault(kind, {})[spring.position] = height
    spread = specification.spread_max_mm if specification else None
    width = specification.group_width_mm if specification else None
    return tuple(
        compare_set(own, kind, spread_max_mm=spread, group_width_mm=width)
        for kind, own in heights.items()
    )
