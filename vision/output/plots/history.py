"""The free height of one place from job to job."""

from collections.abc import Sequence

from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure

from vision.output.palette import FAINT
from vision.output.plaintext import clean
from vision.output.plots.series import Moment
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


def plot_history(place: str, moments: Sequence[Moment], units: Units = "mm") -> Figure:
    """Show each measured height with U on its day."""
    factor = factor_of("mm", units)
    days = [_day(moment) for moment in moments]
    with own_style():
        figure, (axes,) = new_figure(1)
        axes.set_title(f"Free height at {clean(place)}")
        values = [moment.value * factor for moment in moments]
        axes.plot(days, values, color=paint(FAINT), linewidth=1)
        for day, moment in zip(days, moments, strict=True):
            u = moment.expanded * factor
            at = moment.value * factor
            axes.errorbar([day], [at], yerr=[u], **mark(moment.outcome))
        locator = AutoDateLocator(minticks=2, maxticks=8)  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_locator(locator)
        words = ConciseDateFormatter(locator)  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_formatter(words)
        axes.set_ylabel(f"free height L0, {unit_text('mm', units)}")
        axes.margins(x=0.08, y=0.25)
        explain(axes, [moment.outcome for moment in moments])
        footnote(axes)
    return figure


def _day(moment: Moment) -> float:
    return float(date2num(moment.when))  # type: ignore[no-untyped-call]
