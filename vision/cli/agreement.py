"""``freestand agreement``: what photo and hand say of the same springs."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from calib.errors import ArchiveError
from vision.cli.archives import (
    ArchiveOption,
    JsonOption,
    QuietOption,
    UnitsOption,
    open_named,
    units_of,
)

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.cli.pairing import Comparison
    from vision.output.show import Units

app = typer.Typer()

Engine = Annotated[str, typer.Option(help="Only this engine, by its whole name.")]
Of = Annotated[
    Literal["free-height", "squareness"] | None,
    typer.Option("--of", help="Only this; without it both.", show_default=False),
]
Matters = Annotated[
    str,
    typer.Option(
        "--matters", help='The difference that would matter to you, like "0.2 mm".'
    ),
]
Plot = Annotated[
    Path | None, typer.Option("--plot", help="Draw it too: a .png or .svg file.")
]


@app.command()
def agreement(
    archive: ArchiveOption = None,
    *,
    engine: Engine = "",
    of: Of = None,
    matters: Matters = "",
    plot: Plot = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Hold photo against caliper and against hand square over all kept springs.

    Bias and limits of agreement with their 95 % confidence limits, the slope of a line
    through both, and what that means at the bench. A job photographed again under the
    same name and engine shows how well a photo repeats.

    Example: freestand agreement --archive heads --matters "0.2 mm" --plot second.png
    """
    from vision.cli import agreement_shown, pairing  # noqa: PLC0415
    from vision.cli.lists import print_object  # noqa: PLC0415
    from vision.records.measured import Characteristic  # noqa: PLC0415

    kinds = {
        "free-height": Characteristic.FREE_HEIGHT,
        "squareness": Characteristic.SQUARENESS,
    }
    asked = [kinds[of]] if of else list(kinds.values())
    _check_plot(plot)
    limit_mm = _length(matters) if matters else None
    kept = open_named(archive)
    found = {kind: pairing.compare(kept, kind, engine, limit_mm) for kind in asked}
    whole = [one for one in found.values() if not isinstance(one, int)]
    if not whole:
        raise _too_few(kept, max(one for one in found.values() if isinstance(one, int)))
    repeats = pairing.find_repeats(kept, engine)
    chosen = units_of(kept, units)
    if plot:
        _draw(plot, whole[0], chosen)
    if as_json:
        print_object(agreement_shown.to_object(found, repeats))
    elif not quiet:
        agreement_shown.print_found(found, repeats, chosen)
        if plot:
            typer.echo(f"Wrote {plot}.")


def _check_plot(plot: Path | None) -> None:
    if plot is not None and plot.suffix.lower() not in {".png", ".svg"}:
        raise typer.BadParameter(
            f'"{plot.name}" must end in .png or .svg', param_hint="--plot"
        )


def _length(text: str) -> float:
    """Read the difference that matters."""
    from vision.inspection.units import Dimension, Where, read_given  # noqa: PLC0415

    where = Where(file="--matters", key="difference")
    return read_given(text.strip(), (Dimension.LENGTH,), where).value


def _too_few(archive: "Archive", count: int) -> ArchiveError:
    from vision.inspection.agreement import LEAST_PAIRS  # noqa: PLC0415

    springs = "spring has" if count == 1 else "springs have"
    return ArchiveError(
        str(archive.folder),
        f"{count} {springs} both a photo's value and a hand reading,"
        f" below {LEAST_PAIRS}",
        "Enter caliper heights or hand-square gaps with freestand readings",
    )


def _draw(path: Path, comparison: "Comparison", units: "Units") -> None:
    from vision.output.plots.agreement import plot_agreement  # noqa: PLC0415
    from vision.output.plots.style import save_figure  # noqa: PLC0415

    save_figure(path, plot_agreement(comparison.agreement, units))
