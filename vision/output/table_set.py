"""The set held against itself: ranking, straightedge, spread, groups and loads."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from vision.output.plaintext import clean
from vision.output.show import Units, show_given, show_quantity, unit_text
from vision.output.table_loads import load_tables
from vision.output.table_style import heading, named, plain_table, signed
from vision.records.judged import Group, SetResult
from vision.records.kept import Inspection


def set_tables(inspection: Inspection, units: Units) -> Iterator[RenderableType]:
    """Give each set its ranking and the lines below it."""
    for result in inspection.sets:
        yield heading(f"The set, {result.kind}" if result.kind else "The set")
        if result.standings:
            yield _ranking(inspection, result, units)
        yield from _lines(result, units)
        yield from load_tables(inspection, result.loads, units)


def _ranking(inspection: Inspection, result: SetResult, units: Units) -> Table:
    table = plain_table()
    table.add_column("rank", justify="right")
    table.add_column("spring")
    unit = unit_text("mm", units)
    table.add_column(f"free height L0, {unit}", justify="right")
    table.add_column(f"gap under straightedge, {unit}", justify="right")
    table.add_column("group", justify="right")
    groups = {
        position: group for group in result.groups for position in group.positions
    }
    for standing in result.standings:
        position = standing.position
        table.add_row(
            str(standing.rank),
            named(inspection, position),
            show_quantity(standing.height, units).number,
            _gap(result, position, show_quantity(standing.straightedge_gap, units)),
            _group(groups.get(position), position),
        )
    return table


def _gap(result: SetResult, position: int, shown: object) -> str:
    """Leave the two that carry the straightedge without a gap."""
    carriers = {result.row_order[0], result.row_order[-1]} if result.row_order else ()
    return "carries it" if position in carriers else str(getattr(shown, "number", ""))


def _group(group: Group | None, position: int) -> str:
    if group is None:
        return "–"
    return f"{group.number}{' ?' if position in group.doubtful else ''}"


def _lines(result: SetResult, units: Units) -> Iterator[Text]:
    """Say spread, groups, replacements and remarks."""
    if result.spread is not None:
        allowed = (
            f", allowed {show_given(result.spread_limit_mm, 'mm', units)}"
            if result.spread_limit_mm is not None
            else ""
        )
        spread = Text(f"spread {show_quantity(result.spread, units).text}{allowed}")
        if allowed:
            spread = Text.assemble(spread, ": ", signed(result.spread_outcome))
        yield spread
    if any(group.doubtful for group in result.groups):
        yield Text("? its border to the next group lies within U")
    named = (
        ("matching springs", result.best_subset),
        ("to replace for a matching set", result.replace),
    )
    for words, positions in named:
        if positions:
            yield Text(f"{words}: {', '.join(map(str, positions))}")
    for remark in result.remarks:
        yield Text(clean(remark))
