"""Force against height: what was read by hand and what is asked."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vision.output.palette import DATUM, INK, coat
from vision.output.plots.series import Asked, LoadLine, Loads
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

NAME_SHARE = 0.035  # of the axis, between two springs' names
HEADROOM = 1.08  # of the largest force, up to which the plot and open bars reach


def plot_loads(every: Sequence[Loads], units: Units = "mm") -> Figure:
    """Show force against height: free height, hand readings, what is asked."""
    with own_style():
        figure, panels = new_figure(len(every))
        for axes, loads in zip(panels, every, strict=True):
            _draw_loads(axes, loads, units)
    return figure


def _draw_loads(axes: Axes, loads: Loads, units: Units) -> None:
    top = _top(loads) * factor_of("N", units)
    for asked in loads.asked:
        _draw_asked(axes, asked, units, top)
    for line in loads.lines:
        _draw_load_line(axes, line, units)
    axes.set_ylim(bottom=0, top=top)
    axes.invert_xaxis()
    axes.grid(visible=True, axis="x")
    axes.margins(x=0.1)
    _name_lines(axes, loads.lines, factor_of("N", units))
    axes.set_title(f"Loads by hand\n{loads.title}" if loads.title else "Loads by hand")
    axes.set_xlabel(f"height, {unit_text('mm', units)} (compressed to the right)")
    axes.set_ylabel(f"force, {unit_text('N', units)}")
    explain(axes, [line.outcome for line in loads.lines])
    footnote(axes, "Forces are hand-entered; bars: U, k = 2; upright bars: asked")


def _draw_load_line(axes: Axes, line: LoadLine, units: Units) -> None:
    length, force = factor_of("mm", units), factor_of("N", units)
    x = [point.height * length for point in line.points]
    y = [point.force * force for point in line.points]
    axes.plot(x, y, color=paint(coat(line.outcome).line), linewidth=1.3)
    u = [point.expanded * force for point in line.points]
    axes.errorbar(x, y, yerr=u, **mark(line.outcome))


def _name_lines(axes: Axes, lines: Sequence[LoadLine], force: float) -> None:
    """List the springs beside the plot at their last force, no two on each other."""
    ends = sorted((line.points[-1].force * force, line.label) for line in lines)
    step = NAME_SHARE * (axes.get_ylim()[1] - axes.get_ylim()[0])
    at = float("-inf")
    for end, label in ends:
        at = max(end, at + step)
        axes.annotate(
            label,
            xy=(1.0, at),
            xycoords=("axes fraction", "data"),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            fontsize=9,
            color=paint(INK),
        )


def _top(loads: Loads) -> float:
    """Find the force in N that the plot reaches up to."""
    read = [
        point.force + point.expanded for line in loads.lines for point in line.points
    ]
    asked = [bound for each in loads.asked for bound in (each.minimum, each.maximum)]
    known = [force for force in (*read, *asked) if force is not None]
    return HEADROOM * max(known, default=1.0)


def _draw_asked(axes: Axes, asked: Asked, units: Units, top: float) -> None:
    """Draw a load's limits as a broad upright bar, to the very top where it is open."""
    length, force = factor_of("mm", units), factor_of("N", units)
    low = asked.minimum * force if asked.minimum is not None else 0.0
    high = asked.maximum * force if asked.maximum is not None else top
    axes.plot(
        [asked.height * length] * 2,
        [low, high],
        color=paint(DATUM),
        alpha=0.35,
        linewidth=9,
        solid_capstyle="butt",
        zorder=1,
    )
    # Low down, where no line passes at the heights that are asked.
    axes.annotate(
        asked.name,
        xy=(asked.height * length, 0.0),
        xytext=(0, 5),
        textcoords="offset points",
        ha="center",
        fontsize=9,
        color=paint(DATUM),
    )
