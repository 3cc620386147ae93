"""Print a reference target at true size: the square card or the chessboard."""

from enum import Enum
from pathlib import Path
from typing import Annotated, Literal

import typer

app = typer.Typer()


class PaperSize(Enum):
    """The paper in the printer."""

    A4 = "A4"
    LETTER = "Letter"


@app.command()
def card(
    out: Annotated[Path, typer.Argument(help="The PDF file to write.")] = Path(
        "card.pdf"
    ),
    *,
    paper: Annotated[PaperSize, typer.Option(help="Paper size.")] = PaperSize.A4,
    side: Annotated[
        float, typer.Option(min=20.0, help="Side of the square, mm.")
    ] = 50.0,
    bottom_margin: Annotated[
        float, typer.Option(min=5.0, help="Fold to the square's lower edge, mm.")
    ] = 10.0,
    chessboard: Annotated[
        bool, typer.Option("--chessboard", help="Draw a chessboard for the lens file.")
    ] = False,
    columns: Annotated[
        int, typer.Option(min=4, max=40, help="Chessboard: squares across.")
    ] = 10,
    rows: Annotated[
        int, typer.Option(min=3, max=40, help="Chessboard: squares down.")
    ] = 7,
    pitch: Annotated[
        float, typer.Option(min=4.0, help="Chessboard: side of one square, mm.")
    ] = 20.0,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing.")] = False,
) -> None:
    """Write a target to print at true size, and the card's reference file beside it.

    Print it at 100 %, measure the print, and enter what was measured.

    Example: freestand card card.pdf --side 60 --paper Letter
    """
    size: Literal["A4", "Letter"] = "A4" if paper is PaperSize.A4 else "Letter"
    if chessboard:
        told = _write_chessboard(out, columns, rows, pitch, size)
    else:
        told = _write_card(out, side, bottom_margin, size)
    if not quiet:
        typer.echo(told)


def _write_card(
    out: Path, side_mm: float, bottom_margin_mm: float, paper: Literal["A4", "Letter"]
) -> str:
    from vision.output import card as drawing  # noqa: PLC0415
    from vision.output.written import write_whole  # noqa: PLC0415

    wanted = drawing.Card(
        side_mm=side_mm, bottom_margin_mm=bottom_margin_mm, paper=paper
    )
    _refuse_larger("--side", side_mm, drawing.most_side_mm(wanted), paper)
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
    paper: Literal["A4", "Letter"],
) -> str:
    from vision.output import chessboard as drawing  # noqa: PLC0415
    from vision.output.written import write_whole  # noqa: PLC0415

    board = drawing.Chessboard(
        columns=columns, rows=rows, pitch_mm=pitch_mm, paper=paper
    )
    _refuse_larger("--pitch", pitch_mm, drawing.most_pitch_mm(board), paper)
    write_whole(out, drawing.draw_chessboard(board))
    return (
        f"Wrote {out}: {columns} × {rows} squares, "
        f"{columns - 1} × {rows - 1} inner corners.\n"
        "Print at 100 %, glue it onto something flat, measure the pitch, and give\n"
        "freestand lens what was measured."
    )


def _refuse_larger(option: str, asked_mm: float, most_mm: float, paper: str) -> None:
    """Refuse what the paper has no room for, or what is no number."""
    if not asked_mm <= most_mm:
        room = f"{paper} has room for at most {most_mm:.1f} mm, not {asked_mm:g} mm"
        raise typer.BadParameter(room, param_hint=option)
