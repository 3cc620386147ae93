"""A specification as tables within 80 columns, and as data."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rich.padding import Padding
from rich.text import Text

from vision.cli.pages import console
from vision.inspection.practice import describe_practice
from vision.inspection.schema import COILS, SECTIONS, VALVES, Key
from vision.output.leading import lead
from vision.output.plaintext import clean
from vision.output.show import Units, show_given, show_limit
from vision.output.table_style import heading, plain_table
from vision.records.judged import Limit, Requirement, Requirements, Specification

HEADINGS: dict[Units, str] = {"mm": "mm, N", "in": "in, lbf"}
INDENT = (0, 0, 0, 2)  # of text below a table
NO_LIMITS = "no limits given"
Line = tuple[str, tuple[str, ...]]


def print_specification(specification: Specification, shown: tuple[Units, ...]) -> None:
    """Print every kind, the set, the doubts and what the figures imply."""
    screen = console()
    screen.print(heading(specification.name))
    if specification.source:
        screen.print(Text(clean(specification.source)))
    for kind in specification.kinds:
        screen.print(heading(kind.kind) if kind.kind else Text(""))
        table = plain_table()
        table.add_column("asked of each spring")
        for units in shown:
            table.add_column(HEADINGS[units])
        for name, cells in _lines(kind, shown):
            table.add_row(name, *cells)
        screen.print(table)
        for note in describe_practice(kind):
            screen.print(Padding(Text(lead(note, shown[0])), INDENT))
    _print_set(specification, shown)
    _print_doubts(specification, shown[0])


def specification_data(specification: Specification) -> dict[str, Any]:
    """Give every figure in mm, N, deg and N/mm, as the records name them."""
    data = asdict(specification)
    for kind, asked in zip(data["kinds"], specification.kinds, strict=True):
        kind["notes"] = list(describe_practice(asked))
    return data


def print_keys() -> None:
    """Print every section and key that a file may hold."""
    screen = console()
    kinds = ", ".join(f"[{name}.free_height]" for name in ("intake", "exhaust.outer"))
    screen.print(
        Text(
            "A section at the top holds for every spring; under "
            f"{', '.join((*VALVES, *COILS))} it holds for that kind: {kinds}. A value "
            'carries its unit, and may be given twice: "38.9 mm (1.53 in)".'
        )
    )
    for section in SECTIONS:
        where = ", only at the top" if section.common else ""
        screen.print(heading(f"[{section.name}]  {section.text}{where}"))
        table = plain_table()
        table.show_header = False
        for key in section.keys:
            table.add_row(f"  {key.name}", _kinds(key), key.text)
        screen.print(table)


def _kinds(key: Key) -> str:
    return " or ".join(dimension.text for dimension in key.allowed) or "text"


def _lines(asked: Requirements, shown: tuple[Units, ...]) -> Iterator[Line]:
    """List what is asked, a line each."""
    limits = (
        (Requirement.FREE_HEIGHT.text, asked.free_height),
        (Requirement.SQUARENESS.text, asked.squareness),
    )
    for name, limit in limits:
        yield from _limit(name, limit, shown)
    for requirement, height, load in (
        (Requirement.CLOSED_LOAD, "closed height", asked.closed),
        (Requirement.OPEN_LOAD, "open height", asked.open),
        (Requirement.PAIR_CLOSED_LOAD, "outer's closed height", asked.pair_closed),
        (Requirement.PAIR_OPEN_LOAD, "outer's open height", asked.pair_open),
    ):
        if load:
            yield from _given(height, load.height_mm, "mm", shown)
            yield from _limit(f"  {requirement.text}", load.force, shown)
    yield from _given("solid height Lc", asked.solid_height_mm, "mm", shown)
    least = asked.coil_bind_clearance_min_mm
    bind = None if least is None else Limit(unit="mm", minimum=least)
    yield from _limit("coil-bind clearance", bind, shown)
    yield from _limit("rate R", asked.rate, shown)
    yield from _given("second rate", asked.second_rate_n_per_mm, "N/mm", shown)
    yield from _limit("installed height", asked.installed_height, shown)
    yield from _given("valve lift", asked.lift_mm, "mm", shown)
    yield from _limit(Requirement.OUTSIDE_DIAMETER.text, asked.outside_diameter, shown)
    yield from _limit(Requirement.WIRE_DIAMETER.text, asked.wire_diameter, shown)
    if asked.material:
        yield "material", (asked.material,) * len(shown)
    if asked.shear_modulus_mpa:
        yield "shear modulus G", (f"{asked.shear_modulus_mpa:g} MPa",) * len(shown)


def _limit(name: str, limit: Limit | None, shown: tuple[Units, ...]) -> Iterator[Line]:
    """Show the limits that decide, then nominal and a new spring's range."""
    if limit is None:
        return
    yield name, tuple(show_limit(limit, units) or NO_LIMITS for units in shown)
    if limit.nominal is not None:
        yield from _given("  nominal", limit.nominal, limit.unit, shown)
    new = Limit(unit=limit.unit, minimum=limit.new_minimum, maximum=limit.new_maximum)
    if show_limit(new):
        yield "  new spring", tuple(show_limit(new, units) for units in shown)


def _given(
    name: str, value: float | None, unit: str, shown: tuple[Units, ...]
) -> Iterator[Line]:
    if value is not None:
        yield name, tuple(show_given(value, unit, units) for units in shown)


def _print_set(specification: Specification, shown: tuple[Units, ...]) -> None:
    spread, width = specification.spread_max_mm, specification.group_width_mm
    if spread is None and width is None:
        return
    table = plain_table()
    table.add_column("asked of the set")
    for units in shown:
        table.add_column(HEADINGS[units])
    for name, cells in (
        *_given("spread of free heights, at most", spread, "mm", shown),
        *_given("width of a group, at most", width, "mm", shown),
    ):
        table.add_row(name, *cells)
    screen = console()
    screen.print(Text(""))
    screen.print(table)


def _print_doubts(specification: Specification, units: Units) -> None:
    screen = console()
    if not specification.doubts:
        screen.print(Text("\nNo doubts about its figures."))
        return
    screen.print(heading("Look these up in the manual again"))
    for doubt in specification.doubts:
        screen.print(Padding(Text(f"? {clean(lead(doubt, units))}"), INDENT))
