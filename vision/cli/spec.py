"""Check a service specification and show it in both units."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from vision.output.show import Units
    from vision.records.judged import Specification

app = typer.Typer()

DOUBTED = 1  # exit code: something is still to be decided

File = Annotated[
    Path | None, typer.Argument(metavar="SPEC.toml", help="The specification file.")
]
Shown = Annotated[
    Literal["both", "mm", "in"],
    typer.Option("--units", help="mm and N, in and lbf, or both side by side."),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print as JSON, in mm, N and degrees.")
]
Keys = Annotated[bool, typer.Option("--keys", help="List every section and key.")]
Quiet = Annotated[
    bool, typer.Option("--quiet", help="Print nothing; the exit code tells.")
]


@app.command()
def spec(
    file: File = None,
    *,
    units: Shown = "both",
    as_json: AsJson = False,
    keys: Keys = False,
    quiet: Quiet = False,
) -> None:
    """Check a specification file and show it in both units.

    Figures that look like a misprint come as doubts, with both figures.

    Exit code 0 without doubts, 1 with doubts to look up in the manual, 3 when the file
    cannot be used.
    """
    from vision.cli.spec_tables import (  # noqa: PLC0415 keeps the start light
        print_keys,
        print_specification,
        specification_data,
    )

    if keys:
        print_keys()
        return
    if file is None:
        raise typer.BadParameter("give a SPEC.toml, or --keys to list what it may hold")
    specification = _load(file)
    if as_json and not quiet:
        from vision.cli.lists import print_object  # noqa: PLC0415

        print_object(specification_data(specification))
    elif not quiet:
        shown: tuple[Units, ...] = ("mm", "in") if units == "both" else (units,)
        print_specification(specification, shown)
    if specification.doubts:
        raise typer.Exit(DOUBTED)


def _load(file: Path) -> "Specification":
    from vision.inspection.spec import load_specification  # noqa: PLC0415

    return load_specification(file)
