"""A measured row, a specification and hand entries in; a judged inspection out.

No picture is touched here, so a correction of places, findings or readings is judged
again without measuring anything anew.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from vision.inspection.evidence import Case
from vision.inspection.findings import colour_hints
from vision.inspection.load_set import compare_all_loads
from vision.inspection.matching import compare_set, say_best
from vision.inspection.pairs import add_pairs, judge_pairs
from vision.inspection.places import assign_kinds, find_kind
from vision.inspection.verdict import judge_spring
from vision.records.judged import (
    Findings,
    Outcome,
    Reading,
    Requirements,
    SetResult,
    Specification,
    SpringVerdict,
)
from vision.records.kept import Inspection, Job, Place
from vision.records.measured import (
    OPEN_END,
    Characteristic,
    Row,
    SpringMeasurement,
)

NOT_LOOKED = Findings()
BROKEN_HINT = "it may be broken: look at its upper end"


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
    cases = {
        spring.position: Case(
            measured=spring,
            requirements=asked[spring.position]
            or asks_nothing(places.get(spring.position)),
            readings=entries.readings.get(spring.position, ()),
        )
        for spring in row.springs
    }
    return Inspection(
        job=job,
        row=row,
        specification=specification,
        places=places,
        findings=dict(entries.findings),
        readings=dict(entries.readings),
        verdicts=tuple(_verdicts(cases, asked, places, entries)),
        sets=_sets(cases, places, specification),
        program_version=version,
        hints=_hints(row),
        pairs=add_pairs(cases, places),
    )


def choose_springs(inspection: Inspection, count: int) -> Inspection:
    """Say in each set which ``count`` springs match best, rejected ones left out."""
    rejected = {
        verdict.position
        for verdict in inspection.verdicts
        if verdict.outcome is Outcome.REJECT
    }
    sets = []
    for result in inspection.sets:
        heights = {
            each.position: each.height
            for each in result.standings
            if each.position not in rejected
        }
        said = say_best(heights, count)
        if len(heights) < len(result.standings):
            said = f"{said}; rejected springs are left out"
        sets.append(replace(result, remarks=(*result.remarks, said)))
    return replace(inspection, sets=tuple(sets))


def asks_nothing(place: Place | None) -> Requirements:
    """Ask nothing of a spring that no specification speaks of."""
    return Requirements(kind=place.kind if place else "")


def _verdicts(
    cases: Mapping[int, Case],
    asked: Mapping[int, Requirements | None],
    places: Mapping[int, Place],
    entries: HandEntries,
) -> list[SpringVerdict]:
    pair_lines = judge_pairs(cases, places)
    return [
        judge_spring(
            case.measured,
            asked[position],
            entries.findings.get(position, NOT_LOOKED),
            case.readings,
            places[position].text if position in places else "",
            pair_lines.get(position, ()),
        )
        for position, case in cases.items()
    ]


def _sets(
    cases: Mapping[int, Case],
    places: Mapping[int, Place],
    specification: Specification | None,
) -> tuple[SetResult, ...]:
    """One set for each kind of spring that was measured or read, in the row's order."""
    spread = specification.spread_max_mm if specification else None
    width = specification.group_width_mm if specification else None
    found = []
    for kind, members in _by_kind(cases, places).items():
        heights = {
            case.position: height
            for case in members
            if (height := case.photo(Characteristic.FREE_HEIGHT))
        }
        loads = compare_all_loads(members)
        if heights or loads:
            result = compare_set(
                heights, kind, spread_max_mm=spread, group_width_mm=width
            )
            found.append(replace(result, loads=loads))
    return tuple(found)


def _by_kind(
    cases: Mapping[int, Case], places: Mapping[int, Place]
) -> dict[str, list[Case]]:
    kinds: dict[str, list[Case]] = {}
    for position, case in cases.items():
        place = places.get(position)
        kind = place.kind if place else case.requirements.kind
        kinds.setdefault(kind, []).append(case)
    return kinds


def _hints(row: Row) -> dict[int, str]:
    """Hint at springs that may be broken, or whose wire has another colour."""
    measured = [each for each in row.springs if isinstance(each, SpringMeasurement)]
    hints = colour_hints({spring.position: spring.colour for spring in measured})
    for spring in measured:
        if OPEN_END in spring.remarks:
            said = (BROKEN_HINT, hints.get(spring.position, ""))
            hints[spring.position] = "; ".join(each for each in said if each)
    return hints
