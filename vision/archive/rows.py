"""What is searched and listed of an inspection: its rows of entry, spring and hand."""

from collections import Counter
from datetime import UTC
from math import isnan
from typing import Any

from vision.records.judged import Outcome, Reading
from vision.records.kept import Inspection
from vision.records.measured import Characteristic, SpringMeasurement, Unmeasured

Row = dict[str, Any]

TALLY = {
    Outcome.ACCEPT: "accepted",
    Outcome.REJECT: "rejected",
    Outcome.CHECK_BY_HAND: "to_check",
    Outcome.STILL_DUE: "still_due",
}
"""The column that counts an entry's springs of each outcome."""

FIGURES = {
    Characteristic.FREE_HEIGHT: ("free_height_mm", "free_height_expanded_mm"),
    Characteristic.SQUARENESS: ("squareness_mm", "squareness_expanded_mm"),
    Characteristic.LEAN: ("lean_deg", "lean_expanded_deg"),
}
"""The columns of the values that lists show."""


def entry_row(inspection: Inspection) -> Row:
    """Give the columns of an entry that follow from the inspection itself."""
    job = inspection.job
    counts = Counter(verdict.outcome for verdict in inspection.verdicts)
    moment = job.started_at
    return {
        "program_version": plain(inspection.program_version),
        "job": plain(job.name),
        "job_key": key_of(job.name),
        "engine": plain(job.engine),
        "engine_key": key_of(job.engine),
        "started_at": (moment.astimezone(UTC) if moment.tzinfo else moment)
        .replace(tzinfo=None)
        .isoformat(timespec="seconds"),
        "started_on": moment.date().isoformat(),
        "springs": len(inspection.row.springs),
    } | {column: counts[outcome] for outcome, column in TALLY.items()}


def spring_rows(inspection: Inspection) -> list[Row]:
    """Give one row a spring, by position."""
    return [_spring_row(inspection, spring) for spring in inspection.row.springs]


def hand_rows(inspection: Inspection) -> list[Row]:
    """Give one row a hand reading, by position and order of entry."""
    return [
        _hand_row(position, ordinal, reading)
        for position in sorted(inspection.readings)
        for ordinal, reading in enumerate(inspection.readings[position])
    ]


def key_of(text: str) -> str:
    """Give what is compared: without regard to case and spacing."""
    return " ".join(plain(text).casefold().split())


def plain(text: str) -> str:
    """Keep what no database column holds (broken file names, NUL) out of a text."""
    return text.encode("utf-8", "replace").decode().replace("\0", "?")


def _spring_row(inspection: Inspection, spring: SpringMeasurement | Unmeasured) -> Row:
    position = spring.position
    place = inspection.places.get(position)
    word = place.word if place else ""
    outcomes = {one.position: one.outcome.name for one in inspection.verdicts}
    row = {
        "position": position,
        "place": plain(word),
        "place_key": key_of(word),
        "place_text": plain(place.text) if place else "",
        "kind": plain(place.kind) if place else "",
        "outcome": outcomes.get(position),
        "unmeasured": "",
    }
    match spring:
        case SpringMeasurement():
            return row | _figures(spring)
        case Unmeasured():
            nothing = dict.fromkeys(name for pair in FIGURES.values() for name in pair)
            return row | nothing | {"unmeasured": spring.reason.name}


def _figures(spring: SpringMeasurement) -> Row:
    row: Row = {}
    for kind, (value_name, expanded_name) in FIGURES.items():
        quantity = spring.values.get(kind)
        row[value_name] = None if quantity is None else _number(quantity.value)
        row[expanded_name] = None if quantity is None else _number(quantity.expanded)
    return row


def _number(value: float | None) -> float | None:
    """Let a column be empty rather than hold what is not a number."""
    return None if value is None or isnan(value) else float(value)


def _hand_row(position: int, ordinal: int, reading: Reading) -> Row:
    return {
        "position": position,
        "ordinal": ordinal,
        "instrument": reading.instrument.name,
        "value": float(reading.value),
        "unit": reading.unit,
        "expanded_uncertainty": float(reading.expanded_uncertainty),
        "set_height_mm": _number(reading.set_height_mm),
        "assumed": int(reading.assumed),
    }
