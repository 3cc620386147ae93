"""``freestand verify``: tell whether everything is as it was kept."""

from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from vision.cli.archives import ArchiveOption, JsonOption, QuietOption, open_named

if TYPE_CHECKING:
    from vision.archive.check import Extent

app = typer.Typer()

FAULTY = 3  # exit code: an archive that cannot be trusted is unusable input


@app.command()
def verify(
    archive: ArchiveOption = None,
    *,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Check every digest and every reference of the archive.

    Warnings name files that nothing needs; they harm nothing. Nothing is repaired or
    removed.

    Example: freestand verify --archive heads
    """
    from vision.archive import check  # noqa: PLC0415
    from vision.cli import lists  # noqa: PLC0415

    kept = open_named(archive)
    doubts = list(check.verify(kept))
    faults = [doubt for doubt in doubts if not doubt.harmless]
    if as_json:
        extent = {} if faults else asdict(check.measure_extent(kept))
        found = [asdict(doubt) for doubt in doubts]
        lists.print_object({"sound": not faults, **extent, "doubts": found})
    elif not quiet:
        for doubt in doubts:
            kind = "warning" if doubt.harmless else "FAULT"
            typer.echo(f"{kind}  {lists.one_line(doubt.text)}")
        if faults:
            many = "s" if len(faults) > 1 else ""
            typer.echo(f"Not as it was kept: {len(faults)} fault{many}.")
        else:
            typer.echo(_summary(check.measure_extent(kept)))
    if faults:
        raise typer.Exit(FAULTY)


def _summary(extent: "Extent") -> str:
    """Say how much was found as it was kept."""
    return (
        f"All is as it was kept. Inspections {extent.inspections}, versions"
        f" {extent.versions}, springs {extent.springs}, pictures"
        f" {extent.pictures} ({extent.picture_bytes / 1e6:.1f} MB)."
    )
