"""The result as tables for the terminal, within 80 columns.

Colour goes only to a terminal that has it; word and sign always stand, so that the
same text can go to a file or a printer.
"""

from collections.abc import Iterator
from io import StringIO

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from vision.output.leading import lead_inspection
from vision.output.plaintext import clean
from vision.output.show import Units, show_quantity, show_signed, unit_text
from vision.output.table_budget import budget_tables
from vision.output.table_loads import hint_lines, pair_table
from vision.output.table_set import set_tables
from vision.output.table_style import heading, named, plain_table, signed
from vision.output.table_verdicts import verdict_lines
from vision.records.kept import Inspection
from vision.records.measured import Characteristic, SpringMeasurement, Unmeasured

WIDTH = 80
MEASURED = (
    (Characteristic.FREE_HEIGHT, "free height\nL0"),
    (Characteristic.LEAN, "lean"),
    (Characteristic.SQUARENESS, "squareness\ne1"),
)
OUTSIDE = ((Characteristic.OUTSIDE_DIAMETER, "outside\nDe"),)
ENDS = (
    (Characteristic.BOTTOM_DIAMETER, "De at the\nbottom"),
    (Characteristic.TOP_DIAMETER, "De at the\ntop"),
)
WIRE = (
    (Characteristic.WIRE_DIAMETER, "wire\nd"),
    (Characteristic.TOTAL_COILS, "coils\nnt"),
)
TAPER_SHARE = 0.02  # of the diameter; straight springs are coiled more evenly
BOTH_VIEWS = 2


def render(
    inspection: Inspection, units: Units = "mm", *, budget: bool = False
) -> Group:
    """Give everything that the terminal shows; ``budget`` adds the influences."""
    inspection = lead_inspection(inspection, units)
    parts: list[RenderableType] = [
        heading(inspection.job.name or "Springs"),
        _heights(inspection, units),
        *_sizes(inspection, units),
        *verdict_lines(inspection),
        *set_tables(inspection, units),
        *pair_table(inspection, units),
    ]
    if budget:
        parts += budget_tables(inspection, units)
    return Group(*parts, *_notes(inspection))


def to_text(
    inspection: Inspection, units: Units = "mm", *, budget: bool = False
) -> str:
    """Write the same as plain text, 80 columns wide."""
    file = StringIO()
    console = Console(file=file, width=WIDTH, color_system=None, emoji=False)
    console.print(render(inspection, units, budget=budget))
    lines = [line.rstrip() for line in file.getvalue().splitlines()]
    return "\n".join(lines).strip("\n") + "\n"


def _heights(inspection: Inspection, units: Units) -> Table:
    """Tabulate height, lean and squareness, with the verdict."""
    table = plain_table()
    table.add_column("spring")
    for kind, name in MEASURED:
        table.add_column(f"{name}, {unit_text(kind.unit, units)}", justify="right")
    table.add_column("verdict", min_width=15)
    verdicts = {verdict.position: verdict for verdict in inspection.verdicts}
    for spring in inspection.row.springs:
        verdict = verdicts.get(spring.position)
        cells = [named(inspection, spring.position)]
        match spring:
            case SpringMeasurement():
                cells += [_value(spring, kind, units) for kind, _ in MEASURED]
            case Unmeasured():
                cells += [Text("not measured"), Text("–"), Text("–")]
        table.add_row(*cells, signed(verdict.outcome) if verdict else Text("–"))
    return table


def _sizes(inspection: Inspection, units: Units) -> list[RenderableType]:
    """Tabulate diameters and coils; the ends apart where a spring is tapered."""
    measured = [
        spring
        for spring in inspection.row.springs
        if isinstance(spring, SpringMeasurement)
    ]
    if not measured:
        return []
    columns = (ENDS if any(map(_tapered, measured)) else OUTSIDE) + WIRE
    table = plain_table()
    table.add_column("spring")
    for kind, name in columns:
        unit = "" if kind.unit == "coils" else f", {unit_text(kind.unit, units)}"
        table.add_column(f"{name}{unit}", justify="right")
    for spring in measured:
        cells = [_value(spring, kind, units) for kind, _ in columns]
        table.add_row(named(inspection, spring.position), *cells)
    return [Text(""), table]


def _tapered(spring: SpringMeasurement) -> bool:
    """Tell whether the ends differ by more than U and more than coiling leaves."""
    ends = [spring.values.get(kind) for kind, _ in ENDS]
    if ends[0] is None or ends[1] is None:
        return False
    apart = abs(ends[0].value - ends[1].value)
    least = max(ends[0].expanded + ends[1].expanded, TAPER_SHARE * ends[0].value)
    return apart > least


def _value(spring: SpringMeasurement, kind: Characteristic, units: Units) -> Text:
    """Show a value; with one view the lean has a direction."""
    quantity = spring.values.get(kind)
    if quantity is None:
        return Text("–")
    shown = show_quantity(quantity, units)
    if kind is Characteristic.LEAN and spring.views < BOTH_VIEWS:
        shown = show_signed(shown)
    return Text(shown.number if shown.uncertainty else shown.text)


def _notes(inspection: Inspection) -> Iterator[RenderableType]:
    """End with hints, doubts, warnings, advice and what the figures mean."""
    yield from hint_lines(inspection)
    row, specification = inspection.row, inspection.specification
    groups = (
        ("Doubts about the specification", specification and specification.doubts),
        ("Warnings", row.warnings),
        ("For a better photo", row.advice),
    )
    for title, lines in groups:
        if lines:
            yield heading(title)
            for line in lines:
                bullet = Table.grid(padding=(0, 1))
                bullet.add_row("-", Text(clean(line)))
                yield bullet
    yield Text("")
    yield Text(_meaning(inspection))


def _meaning(inspection: Inspection) -> str:
    """Say what ± is, and what a lean or gap from one view is."""
    views = {getattr(spring, "views", BOTH_VIEWS) for spring in inspection.row.springs}
    one_view = (
        " One view: lean and squareness are only their parts in the picture, a lean "
        "to the right is +."
        if 1 in views
        else ""
    )
    return (
        "± is the expanded uncertainty U with k = 2, about 95 %." + one_view + " No "
        "photo shows load, cracks or the far side, so none alone accepts a spring."
    )
