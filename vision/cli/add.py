"""``freestand add``: measure a row, judge it, keep it."""

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from vision.cli.archives import (
    ArchiveOption,
    JsonOption,
    QuietOption,
    UnitsOption,
    archive_folder,
)

app = typer.Typer()


def _read_day(text: str) -> datetime:
    """Read the day of an inspection, and its time where one is given."""
    for form in ("%Y-%m-%d", "%Y-%m-%dT%H:%M"):
        with suppress(ValueError):
            return datetime.strptime(text, form)  # noqa: DTZ007
    wrong = f'"{text}" is no day. Write it like 2026-11-28 or 2026-11-28T14:30'
    raise typer.BadParameter(wrong)


Photo = Annotated[Path, typer.Argument(help="Photo of the row.")]
Turned = Annotated[
    Path | None, typer.Argument(help="The same row, each spring turned a quarter turn.")
]
JobName = Annotated[str, typer.Option("--job", help="What the job is called.")]
EngineName = Annotated[str, typer.Option("--engine", help="The engine it belongs to.")]
ReferenceFile = Annotated[
    Path | None, typer.Option(help="REF.toml of the target that stands in the photo.")
]
CalibrationFile = Annotated[
    Path | None, typer.Option(help="From 'freestand calibrate', camera not moved.")
]
ReferencePhoto = Annotated[
    Path | None, typer.Option(help="The calibration's photo, to be kept along.")
]
LensFile = Annotated[Path | None, typer.Option(help="From 'freestand lens'.")]
Distance = Annotated[float | None, typer.Option(help="Lens to target by tape, in mm.")]
SpecFile = Annotated[Path | None, typer.Option(help="The specification to judge by.")]
Places = Annotated[str, typer.Option(help="Left to right, like 1-4IE or 1I,1E,2I,2E.")]
FindingList = Annotated[
    list[str] | None, typer.Option("--finding", help="Like 2E=crack; may be repeated.")
]
ReadingsFile = Annotated[Path | None, typer.Option(help="Hand readings as CSV.")]
Day = Annotated[
    datetime | None,
    typer.Option("--date", parser=_read_day, metavar="DAY", help="If not now."),
]
Note = Annotated[str, typer.Option(help="Anything to remember with the job.")]
Database = Annotated[
    str, typer.Option(help="PostgreSQL URL, when the archive is made by this command.")
]


@app.command()
def add(
    photo: Photo,
    turned: Turned = None,
    archive: ArchiveOption = None,
    *,
    job: JobName,
    engine: EngineName,
    reference: ReferenceFile = None,
    calibration: CalibrationFile = None,
    reference_photo: ReferencePhoto = None,
    lens: LensFile = None,
    distance_mm: Distance = None,
    spec: SpecFile = None,
    places: Places = "",
    findings: FindingList = None,
    readings: ReadingsFile = None,
    date: Day = None,
    note: Note = "",
    units: UnitsOption = None,
    database: Database = "",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Measure a row of springs, judge it and keep it with its pictures.

    The archive is made when it is not there yet. It remembers --units.

    Example: freestand add row.jpg --reference ref.toml --spec spec.toml --places 1-4I
    --job "head 12" --engine "Brook 1600" --archive heads
    """
    from vision.cli import adding, keeping  # noqa: PLC0415

    if (reference is None) == (calibration is None):
        raise typer.BadParameter("give either --reference or --calibration")
    if turned is not None and turned == photo:
        raise typer.BadParameter("the second photo must be another than the first")
    files = adding.Files(
        photo=photo,
        turned=turned,
        reference=reference,
        calibration=calibration,
        reference_photo=reference_photo,
        lens=lens,
        distance_mm=distance_mm,
    )
    words = adding.Words(
        job=named(job, "--job"),
        engine=named(engine, "--engine"),
        note=note,
        places=places,
        findings=tuple(findings or ()),
        readings=readings,
    )
    folder = archive_folder(archive)
    moment = (date or keeping.now()).astimezone()
    handle, inspection = adding.add(
        folder,
        files,
        words,
        spec,
        moment,
        adding.Making(units=units, database=database),
    )
    keeping.tell_kept(handle, inspection, as_json=as_json, quiet=quiet)
    raise typer.Exit(keeping.exit_code(inspection))


def named(text: str, option: str) -> str:
    """Take a name that is one; spaces around it do not count."""
    if not text.strip():
        raise typer.BadParameter("an empty name is found by nobody", param_hint=option)
    return " ".join(text.split())
