"""``freestand sheet``: one kept inspection as a sheet to read, print and hand on."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from vision.cli.archives import (
    ArchiveOption,
    EntryArgument,
    QuietOption,
    UnitsOption,
    open_named,
    parse_entry,
    units_of,
)

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.output.show import Units
    from vision.records.kept import Kept

app = typer.Typer()

OutOption = Annotated[
    Path | None,
    typer.Option(
        help="File to write, .html or .pdf; without it sheet-INSPECTION.html.",
        show_default=False,
    ),
]
PaperOption = Annotated[Literal["A4", "Letter"], typer.Option(help="Paper size.")]


@app.command()
def sheet(
    inspection: EntryArgument,
    archive: ArchiveOption = None,
    *,
    out: OutOption = None,
    paper: PaperOption = "A4",
    units: UnitsOption = None,
    quiet: QuietOption = False,
) -> None:
    """Write an inspection as one HTML file that needs nothing else, or as PDF.

    Example: freestand sheet 7 --out head-12.pdf --paper Letter
    """
    from vision.archive.shelf import load  # noqa: PLC0415
    from vision.output.written import write_whole  # noqa: PLC0415

    number, version = parse_entry(inspection)
    _refuse_other_formats(out)
    opened = open_named(archive)
    kept = load(opened, number, version)
    path = out or Path(f"sheet-{kept.entry.handle.text}.html")
    write_whole(path, _rendered(opened, kept, path, paper, units_of(opened, units)))
    if not quiet:
        typer.echo(f"Wrote {path}.")


def _refuse_other_formats(out: Path | None) -> None:
    if out is not None and out.suffix.lower() not in {".html", ".pdf"}:
        raise typer.BadParameter(
            f'"{out.name}" must end in .html or .pdf', param_hint="--out"
        )


def _rendered(
    archive: "Archive",
    kept: "Kept",
    path: Path,
    paper: Literal["A4", "Letter"],
    units: "Units",
) -> bytes:
    """Render in the format that the file's name asks for."""
    overlay = overlay_jpeg(archive, kept, units)
    if path.suffix.lower() == ".pdf":
        from vision.output.sheet_pdf import render_pdf  # noqa: PLC0415

        return render_pdf(
            kept.inspection, overlay_jpeg=overlay, units=units, paper=paper
        )
    from vision.output.sheet_html import render_html  # noqa: PLC0415

    page = render_html(kept.inspection, overlay_jpeg=overlay, units=units, paper=paper)
    return page.encode("utf-8")


def overlay_jpeg(archive: "Archive", kept: "Kept", units: "Units") -> bytes | None:
    """Take the overlay that was kept, or draw it anew when it shows other units."""
    from vision.archive.files import load_picture  # noqa: PLC0415
    from vision.records.kept import Role  # noqa: PLC0415

    found = [one for one in kept.pictures if one.role is Role.OVERLAY]
    if found and units == units_of(archive, None):
        return load_picture(archive.folder, found[-1])
    if not any(one.role is Role.ROW for one in kept.pictures):
        return None
    from vision.cli.keeping import kept_photos  # noqa: PLC0415
    from vision.output.overlay import draw_overlay  # noqa: PLC0415
    from vision.output.picture import encode_jpeg  # noqa: PLC0415

    first, *others = kept_photos(archive, kept)
    second = others[0] if others else None
    return encode_jpeg(
        draw_overlay(first, kept.inspection, units, second), kept.inspection
    )
