"""The look of the plots: ink on paper, sober axes, outcomes by shape and colour."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from calib.errors import OutputError
from vision.output.palette import (
    FAINT,
    INK,
    PAPER,
    RULE,
    Colour,
    coat,
    hexadecimal,
)
from vision.output.show import INCH_UNITS, Units
from vision.output.written import write_whole
from vision.records.judged import Outcome

SHAPES = {
    Outcome.ACCEPT: "o",
    Outcome.REJECT: "X",
    Outcome.CHECK_BY_HAND: "D",
    Outcome.STILL_DUE: "s",
    None: "o",
}
"""Outcomes differ in shape as well, for print and for colour-blind eyes."""

DOTS_PER_INCH = 160
SIZE_IN = (8.8, 5.4)
FOOTNOTE = "Bars: expanded uncertainty U, k = 2 (about 95 %)"
SALT = "freestand"  # so that the same plot is the same SVG file
STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 10.5,
    "axes.titlesize": 13,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 14,
    "axes.facecolor": hexadecimal(PAPER),
    "axes.edgecolor": hexadecimal(FAINT),
    "axes.labelcolor": hexadecimal(INK),
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "axes.formatter.useoffset": False,
    "figure.facecolor": hexadecimal(PAPER),
    "grid.color": hexadecimal(RULE),
    "grid.linewidth": 0.6,
    "text.color": hexadecimal(INK),
    "text.parse_math": False,  # a job may be called '$x$'
    "xtick.color": hexadecimal(INK),
    "ytick.color": hexadecimal(INK),
    "legend.frameon": False,
    "svg.fonttype": "path",
    "svg.hashsalt": SALT,
    "path.simplify": False,
}


@contextmanager
def own_style() -> Iterator[None]:
    """Draw in the style of the plots, whatever the user's settings are."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)
        yield


def new_figure(panels: int, height_in: float = SIZE_IN[1]) -> tuple[Figure, list[Axes]]:
    """Begin a figure with panels below each other."""
    figure = Figure(figsize=(SIZE_IN[0], height_in * panels), layout="constrained")
    axes = figure.subplots(panels, 1, squeeze=False)
    return figure, list(axes[:, 0])


def save_figure(path: Path, figure: Figure) -> None:
    """Write a figure as PNG or SVG, whole or not at all.

    Raises
    ------
    OutputError
        When the name does not end in .png or .svg, or cannot be written.
    """
    ending = path.suffix.lower().removeprefix(".")
    if ending not in {"png", "svg"}:
        fault = f"has {path.suffix or 'no ending'}, where a plot needs .png or .svg"
        raise OutputError(str(path), fault, "Name the plot with one of these")
    file = BytesIO()
    metadata = {"Date": None} if ending == "svg" else {}
    with own_style():
        figure.savefig(file, format=ending, dpi=DOTS_PER_INCH, metadata=metadata)
    write_whole(path, file.getvalue())


def mark(outcome: Outcome | None) -> dict[str, Any]:
    """Choose shape and colours of a point."""
    colours = coat(outcome)
    return {
        "marker": SHAPES[outcome],
        "markersize": 9 if outcome is Outcome.REJECT else 7.5,
        "markerfacecolor": hexadecimal(colours.fill),
        "markeredgecolor": hexadecimal(colours.line),
        "markeredgewidth": 1.3,
        "ecolor": hexadecimal(colours.line),
        "elinewidth": 1.6,
        "capsize": 5,
        "capthick": 1.6,
        "linestyle": "none",
    }


def explain(axes: Axes, outcomes: Iterable[Outcome | None]) -> None:
    """Name the outcomes that occur, with their signs."""
    shown = set(outcomes)
    handles = [
        Line2D([], [], label=f"{outcome.sign} {outcome.text}", **_plain(outcome))
        for outcome in Outcome
        if outcome in shown
    ]
    if handles:
        axes.legend(
            handles=handles,
            loc="lower right",
            bbox_to_anchor=(1.0, 1.0),
            ncols=len(handles),
            borderaxespad=0.1,
            handletextpad=0.1,
            columnspacing=1.2,
        )


def _plain(outcome: Outcome) -> dict[str, Any]:
    kept = ("marker", "markersize", "markerfacecolor", "markeredgecolor")
    return {"linestyle": "none"} | {key: mark(outcome)[key] for key in kept}


def footnote(axes: Axes, text: str = FOOTNOTE) -> None:
    """Say below the axes what the bars mean."""
    axes.annotate(
        text,
        xy=(1.0, 0.0),
        xycoords="axes fraction",
        xytext=(0, -38),
        textcoords="offset points",
        ha="right",
        va="top",
        fontsize=8.5,
        color=hexadecimal(FAINT),
    )


def factor_of(unit: str, units: Units) -> float:
    """Give what a metric number is multiplied by to be in the chosen units."""
    return INCH_UNITS[unit][1] if units == "in" and unit in INCH_UNITS else 1.0


def paint(colour: Colour) -> str:
    """Give a colour as matplotlib takes it."""
    return hexadecimal(colour)
