"""What the archive's commands print: tables within 80 columns, or JSON."""

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from math import isfinite
from typing import Any

import typer
from rich.text import Text

from vision.output.plaintext import clean
from vision.output.show import INCH_UNITS, Units, show_number
from vision.output.table_style import STYLES, signed
from vision.records.judged import Outcome, Reading
from vision.records.kept import Entry, Figure, Handle, Inspection, KeptSpring

LEGEND = "  ".join(f"{outcome.sign} {outcome.text}" for outcome in Outcome)
NOTHING = "–"


def print_stream(head: dict[str, Any], key: str, items: Iterable[Any]) -> None:
    """Print one JSON object whose last key holds a list, item by item."""
    start = json.dumps(head | {"format": 1}, ensure_ascii=False)[:-1]
    typer.echo(f"{start}, {json.dumps(key)}: [", nl=False)
    for index, item in enumerate(items):
        comma = ",\n" if index else "\n"
        text = json.dumps(item, ensure_ascii=False, allow_nan=False)
        typer.echo(f"{comma}{text}", nl=False)
    typer.echo("\n]}")


def print_object(data: dict[str, Any]) -> None:
    """Print one JSON object."""
    head = {"format": 1} | data
    typer.echo(json.dumps(head, ensure_ascii=False, allow_nan=False, indent=2))


def outcome_text(outcome: Outcome | None) -> Text:
    """Write an outcome as sign and word, beside its colour."""
    return Text("not judged") if outcome is None else signed(outcome)


def tally_text(tally: Mapping[Outcome, int]) -> Text:
    """Write how many springs came to what: '2✓ 1✗'."""
    text = Text()
    for outcome in Outcome:
        if tally.get(outcome):
            gap = " " if text else ""
            text.append(f"{gap}{tally[outcome]}{outcome.sign}", STYLES[outcome])
    return text


def one_line(text: str) -> str:
    """Make a text from people or files safe for one line of the terminal."""
    return clean(text)


def number_text(figure: Figure | None, units: Units) -> str:
    """Write a value with its U, the unit standing in the heading."""
    if figure is None:
        return NOTHING
    unit, factor = figure.unit, 1.0
    if units == "in" and unit in INCH_UNITS:
        unit, factor = INCH_UNITS[unit]
    return show_number(figure.value * factor, figure.expanded * factor, unit).number


def figure_of(reading: Reading) -> Figure:
    """Take a hand reading's value and U."""
    return Figure(
        value=reading.value, expanded=reading.expanded_uncertainty, unit=reading.unit
    )


def kept_line(handle: Handle, inspection: Inspection) -> str:
    """Say what was kept, and where to look."""
    job = inspection.job
    counts = Counter(verdict.outcome for verdict in inspection.verdicts)
    said = ", ".join(
        f"{counts[outcome]} {outcome.text}" for outcome in Outcome if counts[outcome]
    )
    name = clean(f"{job.name}, {job.engine}")
    springs = len(inspection.row.springs)
    return (
        f"Kept as {handle.text}: {name}; {springs} springs: {said}.\n"
        f"See freestand show {handle.number}"
    )


def kept_object(handle: Handle, inspection: Inspection) -> dict[str, Any]:
    """Give the same for JSON."""
    counts = Counter(verdict.outcome for verdict in inspection.verdicts)
    return {
        "inspection": handle.text,
        "job": inspection.job.name,
        "engine": inspection.job.engine,
        "springs": len(inspection.row.springs),
        "verdicts": _tally_object(counts),
    }


def entry_object(entry: Entry) -> dict[str, Any]:
    """Give a list entry for JSON."""
    return {
        "inspection": entry.handle.text,
        "previous": entry.previous.text if entry.previous else None,
        "change": entry.change.key,
        "note": entry.note,
        "added_at": entry.added_at.isoformat(),
        "program_version": entry.program_version,
        "job": entry.job,
        "engine": entry.engine,
        "date": entry.started_on.isoformat(),
        "springs": entry.springs,
        "verdicts": _tally_object(entry.tally),
    }


def spring_object(spring: KeptSpring) -> dict[str, Any]:
    """Give a listed spring for JSON; lengths in mm, forces in N."""
    return {
        "inspection": spring.handle.text,
        "job": spring.job,
        "engine": spring.engine,
        "date": spring.started_on.isoformat(),
        "position": spring.position,
        "place": spring.place or None,
        "kind": spring.kind or None,
        "verdict": spring.outcome.name.lower() if spring.outcome else None,
        "unmeasured": spring.unmeasured or None,
        "free_height_mm": figure_object(spring.free_height),
        "squareness_mm": figure_object(spring.squareness),
        "lean_deg": figure_object(spring.lean),
    }


def reading_object(reading: Reading) -> dict[str, Any]:
    """Give a hand reading for JSON."""
    return {
        "instrument": reading.instrument.key,
        "unit": reading.unit,
        **(figure_object(figure_of(reading)) or {}),
        "set_height_mm": reading.set_height_mm,
        "assumed_uncertainty": reading.assumed,
    }


def figure_object(figure: Figure | None) -> dict[str, Any] | None:
    """Give value and U for JSON."""
    if figure is None or not (isfinite(figure.value) and isfinite(figure.expanded)):
        return None
    return {
        "value": figure.value,
        "expanded_uncertainty": figure.expanded,
        "coverage_factor": 2,
    }


def first(items: Iterator[Any], count: int) -> Iterator[Any]:
    """Pass so many on and leave the rest in the iterator."""
    return islice(items, count)


def print_end(count: int, noun: str, *, more: bool) -> None:
    """Close a list: what the signs mean, or that there is nothing or more."""
    if not count:
        typer.echo(f"No {noun} is kept that fits.")
        return
    typer.echo(LEGEND)
    if more:
        typer.echo(f"There are more {noun}s; --all shows them.")


def height_text(spring: KeptSpring, units: Units) -> str:
    """Write the free height, or that there is none."""
    return (
        "not measured" if spring.unmeasured else number_text(spring.free_height, units)
    )


def _tally_object(tally: Mapping[Outcome, int]) -> dict[str, int]:
    return {outcome.name.lower(): tally.get(outcome, 0) for outcome in Outcome}
