"""``freestand plot``: results or an archive in, a plot as PNG or SVG out."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from vision.cli.archives import ArchiveOption, QuietOption, UnitsOption

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from vision.cli.plot_sources import Source

app = typer.Typer()

Kind = Literal["heights", "groups", "loads", "history", "agreement"]
Compared = Literal["free-height", "squareness"]

KindArgument = Annotated[Kind, typer.Argument(help="What to plot.", metavar="KIND")]
Subjects = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="RESULT",
        help="Files that measure --json wrote, or an inspection's number in the "
        "archive. History and agreement without any take the whole archive.",
    ),
]
PlaceOption = Annotated[str, typer.Option(help="For history: a place, like 2E.")]
EngineOption = Annotated[
    str, typer.Option(help="For history and agreement: only this engine.")
]
OfOption = Annotated[
    Compared, typer.Option("--of", help="For agreement: what is compared.")
]
OutOption = Annotated[
    Path | None,
    typer.Option(
        help="File to write, .png or .svg; without it KIND.png.", show_default=False
    ),
]
WHOLE = {"history", "agreement"}  # kinds that go over many results


@app.command()
def plot(
    kind: KindArgument,
    subjects: Subjects = None,
    *,
    archive: ArchiveOption = None,
    place: PlaceOption = "",
    engine: EngineOption = "",
    of: OfOption = "free-height",
    units: UnitsOption = None,
    out: OutOption = None,
    quiet: QuietOption = False,
) -> None:
    """Plot heights, groups, loads, a place's history, or photo against hand.

    KIND is heights, groups, loads, history or agreement.

    Example: freestand plot heights result.json --out heights.svg
    """
    from vision.cli.plot_sources import open_source  # noqa: PLC0415
    from vision.output.plots.style import save_figure  # noqa: PLC0415

    path = out or Path(f"{kind}.png")
    _refuse_contradictions(kind, subjects or [], place, path)
    source = open_source(subjects or [], archive, engine, units)
    if kind == "history":
        figure = _of_history(source, place)
    elif kind == "agreement":
        figure = _of_agreement(source, of)
    else:
        figure = _of_row(kind, source)
    save_figure(path, figure)
    if not quiet:
        typer.echo(f"Wrote {path}.")


def _refuse_contradictions(
    kind: Kind, subjects: list[str], place: str, path: Path
) -> None:
    """Say what belongs together."""
    if kind not in WHOLE and len(subjects) != 1:
        raise typer.BadParameter(
            f"{kind} shows one row: name one result file or one inspection",
            param_hint="RESULT",
        )
    if kind == "history" and not place.strip():
        raise typer.BadParameter("history needs a place, like 2E", param_hint="--place")
    if path.suffix.lower() not in {".png", ".svg"}:
        raise typer.BadParameter(
            f'"{path.name}" must end in .png or .svg', param_hint="--out"
        )


def _of_row(kind: Kind, source: "Source") -> "Figure":
    """Plot one row of springs."""
    from vision.cli.plot_sources import nothing_to_plot, read_row  # noqa: PLC0415
    from vision.output.plots.groups import plot_groups  # noqa: PLC0415
    from vision.output.plots.heights import plot_heights  # noqa: PLC0415
    from vision.output.plots.loads import plot_loads  # noqa: PLC0415
    from vision.output.plots.points import ladders, load_lines  # noqa: PLC0415

    data = read_row(source)
    if kind == "loads":
        loads = load_lines(data)
        if not loads:
            fault = "no loads read by hand"
            raise nothing_to_plot(source, fault, "Enter readings first")
        return plot_loads(loads, source.units)
    rows = ladders(data)
    if not rows:
        raise nothing_to_plot(source, "no springs", "Measure a row with springs")
    draw = plot_heights if kind == "heights" else plot_groups
    return draw(rows, source.units)


def _of_history(source: "Source", place: str) -> "Figure":
    """Plot one place from job to job."""
    from vision.cli.plot_sources import nothing_to_plot, read_moments  # noqa: PLC0415
    from vision.output.plots.history import plot_history  # noqa: PLC0415

    moments = read_moments(source, place)
    if not moments:
        fault = f'no measured spring at the place "{place}"'
        raise nothing_to_plot(source, fault, "Name a place that was given to a spring")
    return plot_history(place, moments, source.units)


def _of_agreement(source: "Source", of: Compared) -> "Figure":
    """Plot photo against hand."""
    from vision.cli.plot_sources import read_agreement  # noqa: PLC0415
    from vision.output.plots.agreement import plot_agreement  # noqa: PLC0415
    from vision.records.measured import Characteristic  # noqa: PLC0415

    kind = (
        Characteristic.FREE_HEIGHT if of == "free-height" else Characteristic.SQUARENESS
    )
    return plot_agreement(read_agreement(source, kind), source.units)
