"""Forces of a set held against each other, and of nested springs added."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from vision.output.plaintext import clean
from vision.output.show import (
    Units,
    show_given,
    show_limit,
    show_quantity,
    show_signed,
    unit_text,
)
from vision.output.table_style import heading, named, plain_table, signed
from vision.records.judged import LoadSet, PairLoad
from vision.records.kept import Inspection

INDENT = (0, 0, 0, 2)
LOOK_ANYWAY = "Look every spring over by hand, with a hint or without one."


def load_tables(
    inspection: Inspection, loads: tuple[LoadSet, ...], units: Units
) -> Iterator[RenderableType]:
    """Give each comparison of forces its table, strongest first."""
    for result in loads:
        height = show_given(result.height_mm, "mm", units)
        yield Text(f"\n{result.instrument.text}, all at {height}, by hand")
        yield _table(inspection, result, units)
        spread = show_quantity(result.spread, units).text
        yield Text(f"strongest less weakest {spread}")
        for remark in result.remarks:
            yield Text(clean(remark))


def pair_table(inspection: Inspection, units: Units) -> Iterator[RenderableType]:
    """Give what outer and inner spring of each valve press together."""
    if not inspection.pairs:
        return
    yield heading("Outer and inner together, forces by hand")
    table = plain_table()
    for name in ("valve", "springs"):
        table.add_column(name)
    table.add_column(f"at, {unit_text('mm', units)}", justify="right")
    table.add_column(f"force, {unit_text('N', units)}", justify="right")
    table.add_column("asked")
    table.add_column("outcome", min_width=8)
    for pair in inspection.pairs:
        table.add_row(*_pair(pair, units))
    yield table


def hint_lines(inspection: Inspection) -> Iterator[RenderableType]:
    """Say where the picture suggests to look again; it decides nothing."""
    if not inspection.hints:
        return
    yield heading("To look at again (hints of the picture, no findings)")
    for position, hint in sorted(inspection.hints.items()):
        yield Padding(Text(f"spring {position}: {clean(hint)}"), INDENT)
    yield Padding(Text(LOOK_ANYWAY), INDENT)


def _table(inspection: Inspection, result: LoadSet, units: Units) -> Table:
    table = plain_table()
    table.add_column("spring")
    table.add_column(f"force, {unit_text('N', units)}", justify="right")
    table.add_column("against the others' median, %", justify="right")
    table.add_column("")
    for standing in result.standings:
        table.add_row(
            named(inspection, standing.position),
            show_quantity(standing.force, units).number,
            show_signed(show_quantity(standing.apart_percent)).number,
            "weak" if standing.position in result.weak else "",
        )
    return table


def _pair(pair: PairLoad, units: Units) -> tuple[str | Text, ...]:
    heights = [show_given(height, "mm", units) for height in pair.heights_mm]
    numbers = " and ".join(text.rpartition(" ")[0] for text in heights)
    return (
        f"{clean(pair.place)}, {pair.valve}",
        " + ".join(map(str, pair.positions)),
        numbers,
        show_quantity(pair.force, units).number,
        show_limit(pair.limit, units) if pair.limit else "nothing",
        signed(pair.outcome) if pair.outcome else Text("–"),
    )
