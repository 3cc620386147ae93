"""What makes each uncertainty: the influences of every value, with their shares."""

from collections import defaultdict
from collections.abc import Iterator

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from calib.quantity import Quantity, merged
from vision.output.plaintext import clean
from vision.output.show import Units, in_units, round_uncertainty, show_quantity
from vision.output.table_style import heading, plain_table
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement

LEAST_SHARE = 0.005  # smaller ones are summed in one line


def budget_tables(inspection: Inspection, units: Units) -> Iterator[RenderableType]:
    """Give each value of each spring its own budget."""
    yield heading("Influences on each value (u is one standard uncertainty)")
    for spring in inspection.row.springs:
        if isinstance(spring, SpringMeasurement):
            for kind, quantity in spring.values.items():
                shown = show_quantity(quantity, units).text
                yield heading(f"spring {spring.position}, {kind.text}: {shown}")
                yield _budget(in_units(quantity, units))


def _budget(quantity: Quantity) -> Table:
    """List the influences, largest first, and what they come to."""
    table = plain_table()
    table.add_column("influence", min_width=40)
    table.add_column("u", justify="right")
    table.add_column("share of u²", justify="right")
    variance = quantity.u**2
    small = 0.0
    for label, square in _squares(quantity):
        share = square / variance if variance > 0 else 0.0
        if share < LEAST_SHARE:
            small += square
        else:
            table.add_row(Text(clean(label)), _u(square**0.5), f"{100 * share:.0f} %")
    if small > 0:
        share = small / variance
        table.add_row("all smaller ones", _u(small**0.5), f"{100 * share:.1f} %")
    table.add_row("combined", _u(quantity.u), "100 %")
    return table


def _squares(quantity: Quantity) -> list[tuple[str, float]]:
    """Sum u² of what bears one name: a pose errs in several ways, in each view."""
    sums: defaultdict[str, float] = defaultdict(float)
    for part in merged(quantity.influences):
        sums[part.label] += part.u**2
    return sorted(sums.items(), key=lambda each: -each[1])


def _u(u: float) -> str:
    return f"{round_uncertainty(abs(u)):f}" if u else "0"
