"""``freestand export``: kept inspections as CSV, JSON or folders that stand alone."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vision.cli.archives import (
    ArchiveOption,
    DateOption,
    EngineOption,
    JobOption,
    PlaceOption,
    QuietOption,
    UnitsOption,
    VerdictOption,
    open_named,
    parse_entry,
    units_of,
    wanted_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.archive.opening import Archive
    from vision.archive.search import Wanted
    from vision.records.kept import Kept

app = typer.Typer()

Numbers = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="INSPECTION", help="Numbers, like 7 12; without any, all that fit."
    ),
]
CsvFile = Annotated[Path | None, typer.Option(help="One line a spring, for tables.")]
JsonFile = Annotated[Path | None, typer.Option(help="Everything, with the budgets.")]
Folder = Annotated[
    Path | None, typer.Option(help="A folder an inspection: pictures, data, sheet.")
]


@app.command()
def export(
    numbers: Numbers = None,
    archive: ArchiveOption = None,
    *,
    csv: CsvFile = None,
    json: JsonFile = None,
    folder: Folder = None,
    job: JobOption = "",
    engine: EngineOption = "",
    date: DateOption = "",
    place: PlaceOption = "",
    verdict: VerdictOption = "",
    units: UnitsOption = None,
    quiet: QuietOption = False,
) -> None:
    """Write kept inspections to files that need no archive and no program.

    Files hold mm, N and degrees; --units counts for the sheet in the folder. What
    stands there is not overwritten. The folder's SHA256SUMS is checked by sha256sum.

    Example: freestand export 7 --folder out
    """
    from vision.cli import exporting  # noqa: PLC0415

    if not (csv or json or folder):
        raise typer.BadParameter("give --csv, --json or --folder")
    opened = open_named(archive)
    wanted = wanted_of(
        job=job, engine=engine, date=date, place=place, verdict=verdict, versions=False
    )
    names = _entries(opened, numbers or [], wanted)
    written: list[Path] = []
    if csv:
        exporting.export_csv(csv, _loaded(opened, names))
        written.append(csv)
    if json:
        exporting.export_json(json, _loaded(opened, names))
        written.append(json)
    if folder:
        chosen = units_of(opened, units)
        written += [
            exporting.export_folder(opened, kept, folder, chosen)
            for kept in _loaded(opened, names)
        ]
    if not quiet:
        typer.echo(f"Inspections written: {len(names)}")
        for path in written:
            typer.echo(f"  {path}")


def _entries(
    archive: "Archive", numbers: list[str], wanted: "Wanted"
) -> list[tuple[int, int | None]]:
    """Name what is written; a number that is not there is an error."""
    from vision.archive.search import list_entries  # noqa: PLC0415

    if numbers:
        return [parse_entry(text) for text in numbers]
    return [
        (entry.handle.number, entry.handle.version)
        for entry in list_entries(archive, wanted)
    ]


def _loaded(
    archive: "Archive", names: list[tuple[int, int | None]]
) -> "Iterator[Kept]":
    """Take them out one at a time."""
    from vision.archive.shelf import load  # noqa: PLC0415

    return (load(archive, number, version) for number, version in names)
