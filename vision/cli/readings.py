"""``freestand readings``: enter what was read by hand on kept springs."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vision.cli.archives import (
    ArchiveOption,
    EntryArgument,
    JsonOption,
    QuietOption,
    open_named,
    parse_entry,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from vision.cli.keeping import Revision
    from vision.records.judged import Reading
    from vision.records.kept import Kept

    Readings = Mapping[int, tuple[Reading, ...]]

app = typer.Typer()

Spring = Annotated[str, typer.Argument(help="A place like 2E or a position like 3.")]
Instrument = Annotated[
    str,
    typer.Argument(
        help="caliper_height, square_gap, closed_force, open_force, solid_height,"
        " installed_height, caliper_outside or caliper_wire."
    ),
]
Value = Annotated[str, typer.Argument(help='With its unit, like "48.1 mm".')]
At = Annotated[
    str, typer.Option("--at", help='Height set on the tester, like "38.9 mm".')
]
Uncertainty = Annotated[
    str, typer.Option(help="The instrument's U (k = 2), like '0.05 mm'.")
]
Table = Annotated[
    Path | None, typer.Option("--csv", help="Many readings from a table instead.")
]


@app.command()
def readings(
    inspection: EntryArgument,
    spring: Spring = "",
    instrument: Instrument = "",
    value: Value = "",
    archive: ArchiveOption = None,
    *,
    at: At = "",
    uncertainty: Uncertainty = "",
    csv: Table = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Enter hand readings; a later one of the same instrument counts for the verdict.

    The table's columns are place_or_position, instrument, value, set_height,
    expanded_uncertainty. The verdicts are made again; the old version is kept.

    Example: freestand readings 7 2E closed_force "291 N" --at "38.9 mm"
    """
    from vision.cli import keeping  # noqa: PLC0415
    from vision.inspection.hand import parse_reading  # noqa: PLC0415
    from vision.records.kept import Change  # noqa: PLC0415

    single = bool(spring and instrument and value)
    if single == (csv is not None):
        raise typer.BadParameter("give SPRING, INSTRUMENT and VALUE, or --csv")
    one = parse_reading(instrument, value, at, uncertainty) if csv is None else None
    note = csv.name if csv else f"{spring} {instrument} {value}"

    def revise(kept: "Kept") -> "Revision":
        fresh = _table(kept, csv) if csv else _single(kept, spring, one)
        before = kept.inspection
        return keeping.Revision(
            change=Change.READINGS,
            note=note,
            entries=replace(
                keeping.entries_of(before), readings=joined(before.readings, fresh)
            ),
            specification=before.specification,
        )

    handle, result = keeping.correct(
        open_named(archive), parse_entry(inspection), revise
    )
    keeping.tell_kept(handle, result, as_json=as_json, quiet=quiet)
    raise typer.Exit(keeping.exit_code(result))


def joined(before: "Readings", fresh: "Readings") -> "Readings":
    """Add readings behind those that were there."""
    positions = sorted({*before, *fresh})
    return {at: (*before.get(at, ()), *fresh.get(at, ())) for at in positions}


def _single(kept: "Kept", word: str, reading: "Reading | None") -> "Readings":
    from vision.cli.adding import spring_position  # noqa: PLC0415

    before = kept.inspection
    at = spring_position(word, before.places, len(before.row.springs))
    return {at: (reading,)} if reading else {}


def _table(kept: "Kept", path: Path) -> "Readings":
    from vision.inspection.hand import read_readings  # noqa: PLC0415

    before = kept.inspection
    return read_readings(path, before.places, len(before.row.springs))
