"""``freestand measure``: photos of a row in, millimetres and verdicts out."""

from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from vision.records.kept import Inspection

app = typer.Typer()

UNDECIDED = 1  # exit code: something was rejected or is still to be decided


@app.command()
def measure(
    row_photo: Annotated[Path, typer.Argument(help="Photo of the row of springs.")],
    second_photo: Annotated[
        Path | None,
        typer.Argument(help="The row again, each spring turned a quarter turn."),
    ] = None,
    calibration: Annotated[
        Path | None, typer.Option(help="Calibration file; the camera has not moved.")
    ] = None,
    reference: Annotated[
        Path | None, typer.Option(help="REF.toml of the target in the row photo.")
    ] = None,
    lens: Annotated[
        Path | None, typer.Option(help="Lens file, with --reference.")
    ] = None,
    distance_mm: Annotated[
        float | None, typer.Option(help="Lens to target by tape, with --reference.")
    ] = None,
    spec: Annotated[Path | None, typer.Option(help="Service specification.")] = None,
    places: Annotated[
        str, typer.Option(help="Places left to right in one word, like 1-4IE.")
    ] = "",
    json: Annotated[Path | None, typer.Option(help="Write results as JSON.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write results as CSV.")] = None,
    overlay: Annotated[
        Path | None, typer.Option(help="Write the measured picture (PNG or JPEG).")
    ] = None,
    units: Annotated[
        Literal["mm", "in"] | None,
        typer.Option(
            help="mm and N, or in and lbf; without it as settings.toml says, else mm.",
            show_default=False,
        ),
    ] = None,
    *,
    quarter_turn: Annotated[
        bool,
        typer.Option(
            "--quarter-turn",
            help="The second photo shows each spring turned a quarter turn "
            "counter-clockwise seen from above.",
        ),
    ] = False,
    budget: Annotated[
        bool, typer.Option("--budget", help="Show what each U is made of.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print no table.")] = False,
) -> None:
    """Measure every spring of a row and hold it against a specification.

    Example: freestand measure row.jpg --reference ref.toml --spec spec.toml
    """
    _check_usage(second_photo, quarter_turn, calibration, reference, lens, distance_mm)
    from vision.cli.archives import preferred_units  # noqa: PLC0415
    from vision.cli.inputs import measure_photos, read_target  # noqa: PLC0415
    from vision.cli.results import ResultFiles  # noqa: PLC0415
    from vision.inspection.places import place_springs  # noqa: PLC0415
    from vision.inspection.spec import load_specification  # noqa: PLC0415
    from vision.judgement import HandEntries, inspect_row  # noqa: PLC0415
    from vision.records.kept import Job  # noqa: PLC0415

    chosen = preferred_units(units)
    files = ResultFiles(json=json, csv=csv, overlay=overlay)
    files.check((row_photo, second_photo, calibration, reference, lens, spec))
    specification = load_specification(spec) if spec else None
    target = read_target(reference, lens, distance_mm) if reference else None
    measured = measure_photos(row_photo, second_photo, calibration, target)
    springs = len(measured.row.springs)
    entries = HandEntries(places=place_springs(places, springs) if places else {})
    job = Job(name=row_photo.stem, engine="", started_at=datetime.now().astimezone())
    inspection = inspect_row(
        measured.row, job, specification, entries, version("freestand")
    )
    files.write(measured.photos, inspection, chosen, influences=budget)
    if not quiet:
        from vision.cli.pages import console  # noqa: PLC0415
        from vision.output.table import render  # noqa: PLC0415

        console().print(render(inspection, chosen, budget=budget))
    if not _decided(inspection):
        raise typer.Exit(UNDECIDED)


def _check_usage(
    second: Path | None,
    quarter_turn: bool,
    calibration: Path | None,
    reference: Path | None,
    lens: Path | None,
    distance_mm: float | None,
) -> None:
    if (calibration is None) == (reference is None):
        raise typer.BadParameter(
            "give either --calibration CAL.json or --reference REF.toml"
        )
    if calibration is not None and (lens is not None or distance_mm is not None):
        raise typer.BadParameter("--lens and --distance-mm go with --reference")
    if (second is not None) != quarter_turn:
        raise typer.BadParameter(
            "a second photo and --quarter-turn go together: turn each spring a "
            "quarter turn counter-clockwise seen from above, then photograph again"
        )
    if distance_mm is not None and distance_mm <= 0:
        raise typer.BadParameter("--distance-mm must be positive")


def _decided(inspection: "Inspection") -> bool:
    """Tell whether every spring was accepted (without a specification: measured)."""
    from vision.records.judged import Outcome  # noqa: PLC0415
    from vision.records.measured import Unmeasured  # noqa: PLC0415

    row = inspection.row
    if any(isinstance(spring, Unmeasured) for spring in row.springs):
        return False
    if inspection.specification is None:
        return True
    return all(each.outcome is Outcome.ACCEPT for each in inspection.verdicts)
