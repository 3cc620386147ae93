"""The cells of the CSV file, by the columns that keys.py explains."""

from vision.output.keys import apart_columns, reading_columns, value_columns, word
from vision.output.tree_values import finite
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement, Unmeasured

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would run these

Cells = dict[str, str]


def cells(inspection: Inspection, spring: SpringMeasurement | Unmeasured) -> Cells:
    """Give one spring's cells by column; columns without a cell stay empty."""
    position = spring.position
    place = inspection.places.get(position)
    row = {"position": str(position)}
    if place:
        row |= {"place": _text(place.word), "kind": _text(place.kind)}
    match spring:
        case SpringMeasurement():
            row |= _values(spring)
        case Unmeasured():
            row["unmeasured"] = _text(f"{spring.reason.value}: {spring.detail}")
    if position in inspection.hints:
        row["hint"] = _text(inspection.hints[position])
    row |= _judged(inspection, position) | _by_hand(inspection, position)
    return row | _in_its_set(inspection, position)


def _values(spring: SpringMeasurement) -> Cells:
    row = {"views": str(spring.views)}
    for kind, quantity in spring.values.items():
        name, u_name = value_columns(kind)
        row |= {name: _number(quantity.value), u_name: _number(quantity.expanded)}
    return row


def _judged(inspection: Inspection, position: int) -> Cells:
    for verdict in inspection.verdicts:
        if verdict.position == position:
            return {
                "verdict": word(verdict.outcome),
                "due": _text("; ".join(verdict.due)),
                "actions": _text("; ".join(verdict.actions)),
            }
    return {}


def _by_hand(inspection: Inspection, position: int) -> Cells:
    row: Cells = {}
    for reading in inspection.readings.get(position, ()):
        name, u_name = reading_columns(reading.instrument)
        row[name] = _number(reading.value)
        row[u_name] = _number(reading.expanded_uncertainty)
    findings = inspection.findings.get(position)
    if findings:
        row["findings"] = _text("; ".join(one.key for one in findings.found))
    return row


def _in_its_set(inspection: Inspection, position: int) -> Cells:
    """Hold the spring's forces against those of its set."""
    row: Cells = {}
    for result in (loads for each in inspection.sets for loads in each.loads):
        for standing in result.standings:
            if standing.position == position:
                name, u_name = apart_columns(result.instrument)
                row[name] = _number(standing.apart_percent.value)
                row[u_name] = _number(standing.apart_percent.expanded)
    return row


def _number(value: float) -> str:
    number = finite(value)
    return "" if number is None else repr(number)


def _text(text: str) -> str:
    """Keep a spreadsheet from running a text as a formula."""
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text
