"""Springs in the order of their heights, by groups."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vision.output.palette import DATUM, SHADE
from vision.output.plots.series import Band, Ladder
from vision.output.plots.style import (
    explain,
    factor_of,
    footnote,
    mark,
    new_figure,
    own_style,
    paint,
)
from vision.output.show import Units, unit_text

ROW_IN = 0.42  # height of one spring's row
FEWEST_ROWS = 6


def plot_groups(ladders: Sequence[Ladder], units: Units = "mm") -> Figure:
    """Show the springs by height, each group on its own ground."""
    rows = max((len(ladder.bars) for ladder in ladders), default=0)
    height = ROW_IN * max(rows, FEWEST_ROWS) + 1.6
    with own_style():
        figure, panels = new_figure(len(ladders), height)
        for axes, ladder in zip(panels, ladders, strict=True):
            _draw_groups(axes, ladder, units)
    return figure


def _draw_groups(axes: Axes, ladder: Ladder, units: Units) -> None:
    factor = factor_of("mm", units)
    bars = sorted(
        (bar for bar in ladder.bars if bar.value is not None),
        key=lambda bar: bar.value or 0.0,
    )
    rows = {bar.position: row for row, bar in enumerate(bars)}
    for band in ladder.bands:
        _draw_band(axes, band, rows, factor)
    doubtful = {position for band in ladder.bands for position in band.doubtful}
    for row, bar in enumerate(bars):
        axes.errorbar(
            [(bar.value or 0.0) * factor],
            [row],
            xerr=[bar.expanded * factor],
            **mark(bar.outcome),
        )
    labels = [
        bar.label.replace("\n", " ") + (" ?" if bar.position in doubtful else "")
        for bar in bars
    ]
    axes.set_yticks(range(len(bars)), labels)
    axes.set_ylim(-0.7, max(len(bars), FEWEST_ROWS) - 0.3)
    axes.grid(visible=True, axis="x")
    axes.grid(visible=False, axis="y")
    axes.set_title(f"Groups by height\n{ladder.title}" if ladder.title else "Groups")
    axes.set_xlabel(f"free height L0, {unit_text('mm', units)}")
    axes.set_ylabel("spring, shortest below")
    explain(axes, [bar.outcome for bar in bars])
    note = "; ? its border to the next group lies within U" if doubtful else ""
    footnote(axes, f"Bars: expanded uncertainty U, k = 2{note}")


def _draw_band(axes: Axes, band: Band, rows: dict[int, int], factor: float) -> None:
    """Shade a group's rows and name it at the right."""
    members = [rows[position] for position in band.positions if position in rows]
    if not members:
        return
    low, high = min(members) - 0.5, max(members) + 0.5
    if band.number % 2:
        axes.axhspan(low, high, color=paint(SHADE), zorder=0)
    axes.plot(
        [band.low * factor, band.high * factor],
        [low + 0.12] * 2,
        color=paint(DATUM),
        linewidth=2.4,
        solid_capstyle="butt",
    )
    axes.annotate(
        f"group {band.number}",
        xy=(0.995, high - 0.1),
        xycoords=("axes fraction", "data"),
        ha="right",
        va="top",
        fontsize=9.5,
        color=paint(DATUM),
    )
