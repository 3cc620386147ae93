"""One spring to the last figure: values, hand readings, findings, every decision."""

from collections.abc import Iterator

from rich.padding import Padding
from rich.text import Text

from vision.cli.lists import one_line, outcome_text
from vision.inspection.derived import derive
from vision.inspection.evidence import Case
from vision.inspection.places import find_kind, find_position
from vision.judgement import asks_nothing
from vision.output.leading import lead_inspection
from vision.output.show import (
    Units,
    show_given,
    show_limit,
    show_quantity,
    show_reading,
)
from vision.output.table_style import heading
from vision.records.judged import Decision, Outcome, Reading
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement, Unmeasured

Line = Text | Padding


def spring_lines(inspection: Inspection, word: str, units: Units) -> Iterator[Line]:
    """Trace a spring's verdict to its figures; ``word`` is its place or position."""
    inspection = lead_inspection(inspection, units)
    position = find_position(word, inspection.places)
    place = inspection.places.get(position)
    yield heading(f"Spring {position}" + (f", {place.text}" if place else ""))
    for spring in inspection.row.springs:
        if spring.position == position:
            yield from _measured(spring, units)
            yield from _entered(inspection, position, units)
            yield from _derived(inspection, spring, units)
    for verdict in inspection.verdicts:
        if verdict.position == position:
            yield Text.assemble("\nVerdict: ", outcome_text(verdict.outcome))
            for decision in verdict.decisions:
                yield from _decision(decision, units)


def _entered(inspection: Inspection, position: int, units: Units) -> Iterator[Line]:
    """Give what a person read and saw, and where the picture suggests to look."""
    for reading in inspection.readings.get(position, ()):
        yield Text(_reading(reading, units))
    found = inspection.findings.get(position)
    if found and found.found:
        seen = ", ".join(one.text for one in found.found)
        note = f" ({one_line(found.note)})" if found.note else ""
        yield Text(f"visual findings: {seen}{note}")
    hint = inspection.hints.get(position)
    if hint:
        yield Text(f"hint of the picture, no finding: {one_line(hint)}")


def _derived(
    inspection: Inspection, spring: SpringMeasurement | Unmeasured, units: Units
) -> Iterator[Line]:
    """Give what follows from readings and shape."""
    position, specification = spring.position, inspection.specification
    place = inspection.places.get(position)
    asked = find_kind(specification, place) if specification else None
    case = Case(
        measured=spring,
        requirements=asked or asks_nothing(place),
        readings=inspection.readings.get(position, ()),
    )
    for one in derive(case):
        shown = show_quantity(one.value, units).text
        yield Text(f"computed: {one.text} {shown}, {one.origin}")


def _measured(spring: SpringMeasurement | Unmeasured, units: Units) -> Iterator[Line]:
    """Give each value with U, or why there is none."""
    match spring:
        case SpringMeasurement():
            for kind, quantity in spring.values.items():
                yield Text(f"{kind.text}: {show_quantity(quantity, units).text}")
            for remark in spring.remarks:
                yield Text(f"remark: {one_line(remark)}")
        case Unmeasured():
            detail = one_line(spring.detail)
            yield Text(f"not measured: it {spring.reason.value}; {detail}")


def _reading(reading: Reading, units: Units) -> str:
    """Give a hand reading with its U and the height that was set."""
    at = ""
    if reading.set_height_mm is not None:
        at = f" ({show_given(reading.set_height_mm, 'mm', units)})"
    return f"{reading.instrument.text}{at}: {show_reading(reading, units).text}"


def _decision(decision: Decision, units: Units) -> Iterator[Line]:
    """Give a requirement's line: outcome, value, limit; then why and what to do."""
    parts = [decision.requirement.text]
    if decision.value is not None:
        parts.append(show_quantity(decision.value, units).text)
    asked = show_limit(decision.limit, units) if decision.limit else ""
    if asked:
        parts.append(f"asked {asked}")
    said = "; ".join(parts)
    yield Text.assemble(outcome_text(decision.outcome), f"  {said}")
    due = decision.action if decision.outcome is not Outcome.ACCEPT else ""
    for text in (decision.why, due and f"to do: {due}"):
        if text:
            yield Padding(Text(one_line(text)), (0, 0, 0, 4))
