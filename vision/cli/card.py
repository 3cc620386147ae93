"""Print a reference target at true size: the square card or the chessboard."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from vision.cli.archives import QuietOption

app = typer.Typer()

Paper = Literal["A4", "Letter"]
OutArgument = Annotated[Path, typer.Argument(help="The PDF file to write.")]
PaperOption = Annotated[Paper, typer.Option(help="Paper size.")]
SideOption = Annotated[float, typer.Option(min=20.0, help="Side of the square, mm.")]
MarginOption = Annotated[
    float, typer.Option(min=5.0, help="From the fold to the square's lower edge, mm.")
]
ChessboardOption = Annotated[
    bool, typer.Option("--chessboard", help="Draw a chessboard for the lens file.")
]
ColumnsOption = Annotated[
    int, typer.Option(min=3, max=40, help="Chessboard: inner corners along a row.")
]
RowsOption = Annotated[
    int, typer.Option(min=3, max=40, help="Chessboard: inner corners along a column.")
]
PitchOption = Annotated[
    float, typer.Option(min=4.0, help="Chessboard: side of one square, mm.")
]


@app.command()
def card(
    out: OutArgument = Path("card.pdf"),
    *,
    paper: PaperOption = "A4",
    side_mm: SideOption = 50.0,
    bottom_margin_mm: MarginOption = 10.0,
    chessboard: ChessboardOption = False,
    columns: ColumnsOption = 9,
    rows: RowsOption = 6,
    pitch_mm: PitchOption = 20.0,
    quiet: QuietOption = False,
) -> None:
    """Write a target to print at true size, and the card's reference file beside it.

    Print it at 100 %, measure the print, and enter what was measured.

    Example: freestand card card.pdf --side-mm 60 --paper Letter
    """
    if out.suffix.lower() != ".pdf":
        raise typer.BadParameter(f'"{out.name}" must end in .pdf', param_hint="OUT")
    if chessboard:
        told = _write_chessboard(out, columns, rows, pitch_mm, paper)
    else:
        told = _write_card(out, side_mm, bottom_margin_mm, paper)
    if not quiet:
        typer.echo(told)


def _write_card(
    out: Path, side_mm: float, bottom_margin_mm: float, paper: Paper
) -> str:
    from vision.output import card as drawing  # noqa: PLC0415
    from vision.output.written import write_whole  # noqa: PLC0415

    wanted = drawing.Card(
        side_mm=side_mm, bottom_margin_mm=bottom_margin_mm, paper=paper
    )
    _refuse_larger("--side-mm", side_mm, drawing.most_side_mm(wanted), paper)
    reference = out.with_suffix(".reference.toml")
    write_whole(out, drawing.draw_card(wanted))
    if reference.exists():
        beside = f"{reference} was there already and is kept as it is."
    else:
        write_whole(reference, drawing.reference_text(wanted).encode())
        beside = f"Wrote {reference}."
    return (
        f"Wrote {out}. {beside}\n"
        "Print at 100 %, measure the square and the height of its lower edge, and\n"
        f"enter what was measured in {reference}."
    )


def _write_chessboard(
    out: Path,
    columns: int,
    rows: int,
    pitch_mm: float,
    paper: Paper,
) -> str:
    from vision.output import chessboard as drawing  # noqa: PLC0415
    from vision.output.written import write_whole  # noqa: PLC0415

    board = drawing.Chessboard(
        columns=columns, rows=rows, pitch_mm=pitch_mm, paper=paper
    )
    _refuse_larger("--pitch-mm", pitch_mm, drawing.most_pitch_mm(board), paper)
    write_whole(out, drawing.draw_chessboard(board))
    return (
        f"Wrote {out}: {columns} × {rows} inner corners.\n"
        "Print at 100 %, glue it onto something flat, measure the pitch, enter it:\n"
        f"freestand lens PHOTOS --columns {columns} --rows {rows} --pitch-mm ..."
    )


def _refuse_larger(option: str, asked_mm: float, most_mm: float, paper: str) -> None:
    """Refuse what the paper has no room for, or what is no number."""
    if not asked_mm <= most_mm:
        room = f"{paper} has room for at most {most_mm:.1f} mm, not {asked_mm:g} mm"
        raise typer.BadParameter(room, param_hint=option)
