"""The springs' own parts: table by place, hand readings, one part a spring."""

from vision.output.sheet.amounts import ask, value_text
from vision.output.sheet.naming import (
    NOT_JUDGED,
    asked_of,
    by_place,
    kind_of,
    measured,
    spring_labels,
    verdicts_by_position,
)
from vision.output.sheet.parts import Cell, Fact, Grid, SpringPart
from vision.output.sheet.rose import heading_words, read_lean
from vision.output.show import (
    Units,
    show_given,
    show_quantity,
    show_reading,
    unit_text,
)
from vision.records.judged import (
    Decision,
    Findings,
    Instrument,
    Outcome,
    Reading,
    SpringVerdict,
)
from vision.records.kept import Inspection
from vision.records.measured import Characteristic, SpringMeasurement, Unmeasured

TABLED = (
    Characteristic.FREE_HEIGHT,
    Characteristic.SQUARENESS,
    Characteristic.OUTSIDE_DIAMETER,
    Characteristic.WIRE_DIAMETER,
    Characteristic.TOTAL_COILS,
)
TABLED_BY_HAND = (Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE)
SYMBOLS = ("L0", "e1", "De", "d", "nt")
SHARES = (66, 78, 58, 54, 58, 52, 52, 41, 41)
FORCE_UNITS = {"N", "N/mm"}  # no photo gives these: they rest on hand readings


def table_by_place(inspection: Inspection, units: Units) -> Grid:
    """Tabulate the springs in the order of their places."""
    length, force = unit_text("mm", units), unit_text("N", units)
    names = [f"{symbol}, {length}" for symbol in SYMBOLS[:-1]] + [SYMBOLS[-1]]
    hand = [f"closed, {force}", f"open, {force}"]
    rows = tuple(_row(at, inspection, units) for at in by_place(inspection))
    return Grid(
        caption="L0 free height, e1 squareness, De outside diameter, d wire diameter, "
        "nt total coils, each ± U; loads at closed and open height are read by hand",
        columns=("place", "verdict", *names, *hand),
        shares=SHARES,
        rows=rows,
    )


def _row(position: int, inspection: Inspection, units: Units) -> tuple[Cell, ...]:
    spring = measured(inspection).get(position)
    place = inspection.places.get(position)
    verdict = verdicts_by_position(inspection).get(position)
    name = Cell(
        text=spring_labels(inspection)[position],
        below=place.text if place else "",
        given=True,
    )
    readings = inspection.readings.get(position, ())
    return (
        name,
        Cell(
            text=verdict.outcome.text if verdict else NOT_JUDGED,
            below="" if spring else "not measured",
            outcome=verdict.outcome if verdict else None,
        ),
        *(_value(spring, characteristic, units) for characteristic in TABLED),
        *(_by_hand(readings, instrument, units) for instrument in TABLED_BY_HAND),
    )


def _value(
    spring: SpringMeasurement | None, characteristic: Characteristic, units: Units
) -> Cell:
    if spring is None:
        return Cell(text="–", number=True)
    below = ""
    if characteristic is Characteristic.SQUARENESS and spring.views == 1:
        below = "one view"
    return Cell(
        text=value_text(spring, characteristic, units), below=below, number=True
    )


def _by_hand(
    readings: tuple[Reading, ...], instrument: Instrument, units: Units
) -> Cell:
    shown = [
        show_reading(reading, units).number
        for reading in readings
        if reading.instrument is instrument
    ]
    if not shown:
        return Cell(text="–", number=True)
    return Cell(text=", ".join(shown), by_hand=True, number=True)


def table_of_readings(inspection: Inspection, units: Units) -> Grid | None:
    """Tabulate everything that was read by hand."""
    labels = spring_labels(inspection)
    rows = tuple(
        _reading_row(labels.get(position, str(position)), reading, units)
        for position in by_place(inspection)
        for reading in inspection.readings.get(position, ())
    )
    if not rows:
        return None
    return Grid(
        caption="Read by hand and typed in; U is the instrument's own",
        columns=("spring", "what", "value", "at height"),
        shares=(24, 70, 46, 40),
        rows=rows,
    )


def _reading_row(label: str, reading: Reading, units: Units) -> tuple[Cell, ...]:
    height = reading.set_height_mm
    return (
        Cell(text=label, given=True),
        Cell(text=reading.instrument.text),
        Cell(
            text=show_reading(reading, units).text,
            below="U not entered: the customary one" if reading.assumed else "",
            number=True,
        ),
        Cell(
            text="–" if height is None else show_given(height, "mm", units),
            number=True,
        ),
    )


def spring_part(position: int, inspection: Inspection, units: Units) -> SpringPart:
    """Put one spring's verdict, lines, findings and remarks together."""
    spring = next(s for s in inspection.row.springs if s.position == position)
    verdict = verdicts_by_position(inspection).get(position)
    place = inspection.places.get(position)
    return SpringPart(
        position=position,
        label=spring_labels(inspection)[position],
        place=place.text if place else (verdict.place if verdict else ""),
        outcome=verdict.outcome if verdict else None,
        word=verdict.outcome.text if verdict else NOT_JUDGED,
        facts=_facts(spring, inspection, units),
        lines=_lines(verdict, units),
        due=verdict.due if verdict else (),
        actions=verdict.actions if verdict else (),
        notes=() if isinstance(spring, Unmeasured) else spring.remarks,
        hint=inspection.hints.get(position, ""),
    )


def _facts(
    spring: SpringMeasurement | Unmeasured, inspection: Inspection, units: Units
) -> tuple[Fact, ...]:
    looked = findings_text(inspection.findings.get(spring.position, Findings()))
    seen = Fact(label="looked over by hand", text=looked, given=True)
    if isinstance(spring, Unmeasured):
        why = f"spring {spring.position} {spring.reason.value}: {spring.detail}"
        return (Fact(label="not measured", text=why, given=True), seen)
    verdict = verdicts_by_position(inspection).get(spring.position)
    told = {line.requirement.key for line in verdict.decisions} if verdict else set()
    values = [
        Fact(label=what.text, text=show_quantity(quantity, units).text)
        for what, quantity in spring.values.items()
        if what.key not in told
    ]
    asked = asked_of(kind_of(spring.position, inspection), inspection)
    lean = read_lean(spring, asked.squareness if asked else None)
    if lean is not None:
        part = "" if lean.whole else " (in the picture plane, from one view)"
        values.append(Fact(label="leans", text=heading_words(lean) + part))
    return (*values, seen)


def findings_text(findings: Findings) -> str:
    """Say what was found by looking."""
    if not findings.found:
        return "not yet looked over"
    text = ", ".join(finding.text for finding in findings.found)
    return f"{text} ({findings.note})" if findings.note else text


def _lines(verdict: SpringVerdict | None, units: Units) -> Grid | None:
    if verdict is None or not verdict.decisions:
        return None
    return Grid(
        caption=f"Requirements of spring {verdict.position}",
        columns=("requirement", "value", "asked", "outcome", "why, and what to do"),
        shares=(27, 23, 34, 34, 62),
        rows=tuple(_line(decision, units) for decision in verdict.decisions),
    )


def _line(decision: Decision, units: Units) -> tuple[Cell, ...]:
    value = "–"
    if decision.value is not None:
        value = show_quantity(decision.value, units).text
    kept = decision.outcome is Outcome.ACCEPT
    by_hand = decision.value is not None and decision.value.unit in FORCE_UNITS
    return (
        Cell(text=decision.requirement.text),
        Cell(text=value, by_hand=by_hand, number=True),
        Cell(text=ask(decision.limit, units) or "–", given=True),
        Cell(text=decision.outcome.text, outcome=decision.outcome),
        Cell(text=decision.why, below="" if kept else decision.action, given=True),
    )
