"""Long lists as tables within the terminal, a page at a time.

Made for thousands of rows: a cell is laid out only where it does not fit on its line.
"""

import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice, zip_longest

import typer
from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from vision.output.plaintext import clean

WIDEST = 80
PAGE = 200  # rows of one table, so that a long list needs little memory
GAP = "  "
LEAST = 6  # cells, to which a column of names gives way before one of numbers
FIXED, WRAPPED = "fixed", "wrapped"
"""Columns of numbers keep to one line; columns of names give way."""

Cell = str | Text
Columns = Mapping[str, str]
Lines = tuple[tuple[str, int], ...]
"""What is printed of a cell, line by line, with the width that it takes."""


def console() -> Console:
    """Make the terminal that tables are printed on."""
    columns = shutil.get_terminal_size((WIDEST, 24)).columns
    return Console(width=min(columns, WIDEST), highlight=False, markup=False)


def print_pages(columns: Columns, rows: Iterable[tuple[Cell, ...]]) -> int:
    """Print rows as tables of at most a page; return how many rows came."""
    count, screen = 0, console()
    rows = iter(rows)
    while page := list(islice(rows, PAGE)):
        typer.echo("\n".join(_table(screen, columns, page)))
        count += len(page)
    return count


def _table(
    screen: Console,
    columns: Columns,
    page: Sequence[tuple[Cell, ...]],
) -> Iterator[str]:
    """Lay a page out under its headings and a rule."""
    table = [tuple(map(_shown, row)) for row in page]
    heads = tuple(Text(name) for name in columns)
    natural = [max(map(_width, column)) for column in zip(heads, *table, strict=True)]
    made: dict[tuple[str, int], Lines] = {}
    widths = _narrowed(tuple(columns.values()), natural, screen.width)
    yield from _row(screen, heads, widths, made)
    yield "─" * (sum(widths) + len(GAP) * (len(widths) - 1))
    for row in table:
        yield from _row(screen, row, widths, made)


def _shown(cell: Cell) -> Cell:
    return clean(cell) if isinstance(cell, str) else cell


def _plain(cell: Cell) -> str:
    return cell if isinstance(cell, str) else cell.plain


def _width(cell: Cell) -> int:
    text = _plain(cell)
    return len(text) if text.isascii() else cell_len(text)


def _narrowed(kinds: Sequence[str], natural: Sequence[int], room: int) -> list[int]:
    """Take from the widest column of names, then from any, until the table fits."""
    widths = list(natural)
    room -= len(GAP) * (len(widths) - 1)
    while sum(widths) > max(room, len(widths)):
        giving = [
            at
            for at, kind in enumerate(kinds)
            if kind == WRAPPED and widths[at] > LEAST
        ] or range(len(widths))
        widths[max(giving, key=widths.__getitem__)] -= 1
    return widths


def _row(
    screen: Console,
    row: Sequence[Cell],
    widths: Sequence[int],
    made: dict[tuple[str, int], Lines],
) -> Iterator[str]:
    """Set cells side by side, on as many lines as the longest needs."""
    cells = [
        _lines(screen, cell, width, made)
        for cell, width in zip(row, widths, strict=True)
    ]
    for parts in zip_longest(*cells, fillvalue=("", 0)):
        padded = (
            f"{text}{' ' * (width - taken)}"
            for (text, taken), width in zip(parts, widths, strict=True)
        )
        yield GAP.join(padded).rstrip()


def _lines(
    screen: Console, cell: Cell, width: int, made: dict[tuple[str, int], Lines]
) -> Lines:
    """Cut a cell into lines; what was laid out once is not laid out again."""
    taken = _width(cell)
    if isinstance(cell, str) and taken <= width:
        return ((cell, taken),)
    key = (_plain(cell), width)
    if key not in made:
        text = Text(cell) if isinstance(cell, str) else cell
        lines = [text] if taken <= width else text.wrap(screen, width)
        made[key] = tuple((_ansi(screen, line), _width(line)) for line in lines)
    return made[key]


def _ansi(screen: Console, text: Text) -> str:
    """Write a text with the colours that the terminal has."""
    if screen.color_system is None or not (text.spans or text.style):
        return text.plain
    with screen.capture() as written:
        screen.print(text, end="", soft_wrap=True)
    return written.get()
