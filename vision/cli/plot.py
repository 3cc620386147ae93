"""``freestand plot``: results or an archive in, a plot as PNG or SVG out."""

from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from vision.cli.plot_sources import Source
    from vision.output.show import Units

app = typer.Typer()


class Kind(Enum):
    """What is plotted."""

    HEIGHTS = "heights"
    GROUPS = "groups"
    LOADS = "loads"
    HISTORY = "history"
    AGREEMENT = "agreement"


class UnitChoice(Enum):
    """The units that values are shown in."""

    MM = "mm"
    IN = "in"


class Method(Enum):
    """What photo and hand instrument both read."""

    FREE_HEIGHT = "free-height"
    SQUARENESS = "squareness"


@app.command()
def plot(
    kind: Annotated[Kind, typer.Argument(help="What to plot.")],
    results: Annotated[
        list[Path] | None,
        typer.Argument(help="Result files from 'freestand measure --json'."),
    ] = None,
    *,
    archive: Annotated[
        Path | None, typer.Option(help="Take the results from this archive.")
    ] = None,
    number: Annotated[
        int | None, typer.Option(help="With --archive: the inspection's number.")
    ] = None,
    engine: Annotated[str, typer.Option(help="With --archive: only this engine.")] = "",
    place: Annotated[
        str, typer.Option(help="For history: the spring's place, such as 2E.")
    ] = "",
    of: Annotated[
        Method, typer.Option(help="For agreement: what is compared.")
    ] = Method.FREE_HEIGHT,
    units: Annotated[UnitChoice, typer.Option(help="Units shown.")] = UnitChoice.MM,
    out: Annotated[
        Path | None, typer.Option(help="File to write, .png or .svg.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing.")] = False,
) -> None:
    """Plot heights, groups, loads, a place's history or photo against hand.

    Example: freestand plot heights result.json --out heights.svg
    """
    from vision.cli.plot_sources import Source  # noqa: PLC0415
    from vision.output.plots.style import save_figure  # noqa: PLC0415

    _refuse_contradictions(kind, results, archive, number, place)
    source = Source(
        files=tuple(results or ()), archive=archive, number=number, engine=engine
    )
    shown: Literal["mm", "in"] = "in" if units is UnitChoice.IN else "mm"
    figure = (
        _of_history(source, place, shown)
        if kind is Kind.HISTORY
        else _of_agreement(source, of, shown)
        if kind is Kind.AGREEMENT
        else _of_row(kind, source, shown)
    )
    path = out or Path(f"{kind.value}.png")
    save_figure(path, figure)
    if not quiet:
        typer.echo(f"Wrote {path}.")


def _refuse_contradictions(
    kind: Kind,
    results: list[Path] | None,
    archive: Path | None,
    number: int | None,
    place: str,
) -> None:
    """Say which options belong together."""
    one_row = kind in {Kind.HEIGHTS, Kind.GROUPS, Kind.LOADS}
    if bool(results) == (archive is not None):
        raise typer.BadParameter("give either result files or --archive")
    if one_row and results and len(results) > 1:
        raise typer.BadParameter(f"{kind.value} shows one result file at a time")
    if one_row and archive is not None and number is None:
        raise typer.BadParameter(f"{kind.value} from an archive needs --number")
    if kind is Kind.HISTORY and not place:
        raise typer.BadParameter("history needs --place, such as 2E")


def _of_row(kind: Kind, source: "Source", units: "Units") -> "Figure":
    """Plot one row of springs."""
    from vision.cli.plot_sources import nothing_to_plot, read_row  # noqa: PLC0415
    from vision.output.plots.groups import plot_groups  # noqa: PLC0415
    from vision.output.plots.heights import plot_heights  # noqa: PLC0415
    from vision.output.plots.loads import plot_loads  # noqa: PLC0415
    from vision.output.plots.points import ladders, load_lines  # noqa: PLC0415

    data = read_row(source)
    if kind is Kind.LOADS:
        loads = load_lines(data)
        if not loads:
            raise nothing_to_plot(source, "no loads read by hand", "Enter readings")
        return plot_loads(loads, units)
    rows = ladders(data)
    if not rows:
        raise nothing_to_plot(source, "no springs", "Measure a row with springs")
    return (
        plot_heights(rows, units) if kind is Kind.HEIGHTS else plot_groups(rows, units)
    )


def _of_history(source: "Source", place: str, units: "Units") -> "Figure":
    """Plot one place from job to job."""
    from vision.cli.plot_sources import nothing_to_plot, read_moments  # noqa: PLC0415
    from vision.output.plots.history import plot_history  # noqa: PLC0415

    moments = read_moments(source, place)
    if not moments:
        fault = f"no measured spring at place {place!r}"
        raise nothing_to_plot(source, fault, "Name a place that was given to a spring")
    return plot_history(place, moments, units)


def _of_agreement(source: "Source", of: Method, units: "Units") -> "Figure":
    """Plot photo against hand."""
    from vision.cli.plot_sources import read_agreement  # noqa: PLC0415
    from vision.output.plots.agreement import plot_agreement  # noqa: PLC0415
    from vision.records.measured import Characteristic  # noqa: PLC0415

    kind = Characteristic[of.name]
    return plot_agreement(read_agreement(source, kind), units)
