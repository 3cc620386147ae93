"""Two methods against each other, after Bland and Altman 1986."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vision.output.palette import FAINT, INK, MEASURE, SHADE
from vision.output.plots.style import (
    factor_of,
    footnote,
    new_figure,
    own_style,
    paint,
)
from vision.output.show import MINUS, Units, show_number, unit_text
from vision.records.compared import Agreement, Bound


def plot_agreement(agreement: Agreement, units: Units = "mm") -> Figure:
    """Show differences against means, with bias and limits of agreement."""
    factor = factor_of(agreement.unit, units)
    unit = unit_text(agreement.unit, units)
    with own_style():
        figure, (axes,) = new_figure(1)
        axes.set_title(f"{agreement.first} against {agreement.second}")
        axes.axhline(0.0, color=paint(FAINT), linewidth=0.8)
        reach = f"{agreement.factor:.2f} s"
        for name, bound in (
            (f"mean + {reach}", agreement.upper),
            ("mean", agreement.bias),
            (f"mean {MINUS} {reach}", agreement.lower),
        ):
            _draw_bound(axes, bound, (name, unit), factor)
        axes.plot(
            [mean * factor for mean in agreement.means],
            [difference * factor for difference in agreement.differences],
            "o",
            markerfacecolor="none",
            markeredgecolor=paint(INK),
            markersize=6.5,
        )
        axes.set_xlabel(f"mean of both, {unit}")
        axes.set_ylabel(f"{agreement.first} {MINUS} {agreement.second}, {unit}")
        axes.margins(x=0.05, y=0.15)
        footnote(axes, f"{agreement.count} pairs; grounds: 95 % confidence limits")
    return figure


def _draw_bound(
    axes: Axes, bound: Bound, named: tuple[str, str], factor: float
) -> None:
    """Draw bias or a limit with its confidence ground and its value."""
    name, unit = named
    half = (bound.high - bound.low) / 2 * factor
    axes.axhspan(bound.low * factor, bound.high * factor, color=paint(SHADE), zorder=0)
    axes.axhline(
        bound.value * factor,
        color=paint(MEASURE),
        linewidth=1.6 if name == "mean" else 1.1,
        linestyle="-" if name == "mean" else (0, (6, 3)),
    )
    shown = show_number(bound.value * factor, half, unit)
    axes.annotate(
        f"{name}\n{shown.number} {unit}",
        xy=(1.0, bound.value * factor),
        xycoords=("axes fraction", "data"),
        xytext=(6, 0),
        textcoords="offset points",
        va="center",
        fontsize=9,
        color=paint(MEASURE),
    )
