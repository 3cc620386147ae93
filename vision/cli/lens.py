"""Solve a camera's lens from chessboard photos and write a lens file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from calib.records import Lens

app = typer.Typer()

Photos = Annotated[
    list[Path],
    typer.Argument(
        help="Ten to twenty photos of one chessboard, each tilted otherwise."
    ),
]
Columns = Annotated[
    int, typer.Option(help="Inner corners along a row: points where four squares meet.")
]
Rows = Annotated[int, typer.Option(help="Inner corners along a column.")]
PitchMm = Annotated[float, typer.Option(help="Side of one square, in mm.")]
Out = Annotated[Path, typer.Option(help="Lens file to write (JSON).")]
Replace = Annotated[bool, typer.Option("--replace", help="Replace an older lens file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the lens as JSON.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing.")]


@app.command()
def lens(
    photos: Photos,
    *,
    columns: Columns,
    rows: Rows,
    pitch_mm: PitchMm,
    out: Out,
    replace: Replace = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Solve a camera's lens from photos of a chessboard.

    The lens file serves photos of the same camera, zoom and size, focused as far away.

    Fix the zoom, tilt the board by 20° to 40° in all directions, fill the picture, and
    keep the board flat.
    """
    from calib.errors import LensError  # noqa: PLC0415 keeps the start light
    from calib.lens import save_lens, solve_lens  # noqa: PLC0415
    from calib.photo import read_photo  # noqa: PLC0415
    from vision.cli.results import spare_inputs  # noqa: PLC0415

    spare_inputs((out,), photos)
    if not out.parent.is_dir():
        raise LensError(str(out), "has no folder to stand in", "Make the folder first")
    if out.exists() and not replace:
        raise LensError(
            str(out), "exists already", "Choose another name, or give --replace"
        )
    solved = solve_lens(map(read_photo, photos), columns, rows, pitch_mm)
    save_lens(solved, out)
    if as_json:
        typer.echo(out.read_text(encoding="utf-8"), nl=False)
    elif not quiet:
        typer.echo("\n".join(describe_lens(solved, out)))


def describe_lens(solved: "Lens", out: Path) -> list[str]:
    """Tell what was found, with U (k = 2), and what to do next."""
    from calib.quantity import COVERAGE_FACTOR  # noqa: PLC0415 keeps the start light
    from vision.output.show import show_number  # noqa: PLC0415

    width, height = solved.size_px
    rows = (
        ("focal length", solved.focal_px, solved.focal_u_px, "px"),
        ("centre, from the left", solved.centre_px[0], solved.centre_u_px, "px"),
        ("centre, from the top", solved.centre_px[1], solved.centre_u_px, "px"),
        ("distortion k1", solved.k1, solved.k1_u, ""),
        ("distortion k2", solved.k2, solved.k2_u, ""),
    )
    return [
        f"{solved.camera}, {width} x {height} px, from {solved.views} photos",
        *(
            f"  {name:<22}{show_number(value, COVERAGE_FACTOR * u, unit).text}"
            for name, value, u, unit in rows
        ),
        f"  {'corners miss by':<22}{solved.rms_px:.2f} px (rms)",
        "U has k = 2. It holds the scatter between the photos, not a change of focus.",
        f"Wrote {out}. Give it with --lens for photos of this camera at the same zoom",
        "and size, and look at the board once more whenever either changes.",
    ]
