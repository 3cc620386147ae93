"""Free heights of the row between their limits."""

from collections.abc import Sequence
from math import isfinite

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vision.output.palette import DATUM, FAINT, INK, PAPER, SHADE
from vision.output.plots.series import Bar, Ladder
from vision.output.plots.style import (
    explain,
    factor_of,
    footnote,
    mark,
    new_figure,
    own_style,
    paint,
)
from vision.output.show import Units, show_given, show_number, unit_text

ROOM = 0.12  # of the data's range, left free above and below
LEAST_ROOM_MM = 0.15


def plot_heights(ladders: Sequence[Ladder], units: Units = "mm") -> Figure:
    """Show each spring's height with U between the limits, in the row's order."""
    with own_style():
        figure, panels = new_figure(len(ladders))
        for axes, ladder in zip(panels, ladders, strict=True):
            _draw_ladder(axes, ladder, units)
    return figure


def _draw_ladder(axes: Axes, ladder: Ladder, units: Units) -> None:
    factor = factor_of("mm", units)
    for x, bar in enumerate(ladder.bars):
        if bar.value is None:
            axes.annotate(
                "not\nmeasured",
                xy=(x, 0.02),
                xycoords=("data", "axes fraction"),
                ha="center",
                va="bottom",
                fontsize=8.5,
                color=paint(FAINT),
            )
        else:
            _draw_bar(axes, x, bar, units)
    axes.set_xticks(range(len(ladder.bars)), [bar.label for bar in ladder.bars])
    axes.set_xlim(-0.6, len(ladder.bars) - 0.4)
    low, high = _range(ladder)
    axes.set_ylim(low * factor, high * factor)
    _draw_limits(axes, ladder, units)
    axes.set_title(f"Free heights\n{ladder.title}" if ladder.title else "Free heights")
    axes.set_xlabel("spring, left to right")
    axes.set_ylabel(f"free height L0, {unit_text('mm', units)}")
    explain(axes, [bar.outcome for bar in ladder.bars])
    footnote(axes)


def _draw_bar(axes: Axes, x: float, bar: Bar, units: Units) -> None:
    """Set the point with U and write its value beside it."""
    if bar.value is None:
        return
    factor = factor_of("mm", units)
    axes.errorbar(
        [x], [bar.value * factor], yerr=[bar.expanded * factor], **mark(bar.outcome)
    )
    shown = show_number(bar.value * factor, bar.expanded * factor, "mm")
    axes.annotate(
        shown.value,
        xy=(x, (bar.value + bar.expanded) * factor),
        xytext=(0, 5),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=9,
        color=paint(INK),
        bbox={"facecolor": paint(PAPER), "edgecolor": "none", "alpha": 0.7, "pad": 0.6},
    )


def _range(ladder: Ladder) -> tuple[float, float]:
    """Leave room round the bars and the limits, in mm."""
    ends = [limit for limit in (ladder.minimum, ladder.maximum) if limit is not None]
    for bar in ladder.bars:
        if bar.value is not None and isfinite(bar.value):
            ends += [bar.value - bar.expanded, bar.value + bar.expanded]
    low, high = min(ends, default=0.0), max(ends, default=1.0)
    room = max(ROOM * (high - low), LEAST_ROOM_MM)
    return low - room, high + 1.5 * room


def _draw_limits(axes: Axes, ladder: Ladder, units: Units) -> None:
    """Draw what is asked as lines, and shade what lies outside."""
    factor = factor_of("mm", units)
    bottom, top = axes.get_ylim()
    for limit, words, end, side in (
        (ladder.minimum, "at least", bottom, "top"),
        (ladder.maximum, "at most", top, "bottom"),
    ):
        if limit is None:
            continue
        at = limit * factor
        axes.axhspan(at, end, color=paint(SHADE), zorder=0)
        axes.axhline(at, color=paint(DATUM), linewidth=1.6, zorder=1)
        axes.annotate(
            f"{words} {show_given(limit, 'mm', units)}",
            xy=(0.005, at),
            xycoords=("axes fraction", "data"),
            xytext=(2, -3 if side == "top" else 3),
            textcoords="offset points",
            va=side,
            fontsize=9,
            color=paint(DATUM),
        )
