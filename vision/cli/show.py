"""``freestand show``: one kept inspection, or one spring of it to the last figure."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from vision.cli.archives import (
    ArchiveOption,
    EntryArgument,
    JsonOption,
    UnitsOption,
    open_named,
    parse_entry,
    units_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.archive.opening import Archive
    from vision.records.kept import Entry, Kept

app = typer.Typer()

Spring = Annotated[
    str, typer.Argument(help="A place like 2E or a position like 3, to see all of it.")
]
Choose = Annotated[
    int | None,
    typer.Option(min=1, help="Name the springs of each set that match best: how many."),
]
Budget = Annotated[bool, typer.Option("--budget", help="Each value's influences, too.")]


@app.command()
def show(
    inspection: EntryArgument,
    spring: Spring = "",
    archive: ArchiveOption = None,
    *,
    choose: Choose = None,
    budget: Budget = False,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show an inspection as it was kept, or one of its springs with every line.

    Example: freestand show 7 2E
    """
    from vision.archive.shelf import load  # noqa: PLC0415
    from vision.cli import lists  # noqa: PLC0415
    from vision.cli.adding import spring_position  # noqa: PLC0415
    from vision.cli.details import spring_lines  # noqa: PLC0415
    from vision.cli.pages import console  # noqa: PLC0415
    from vision.judgement import choose_springs  # noqa: PLC0415
    from vision.output.table import render  # noqa: PLC0415

    opened = open_named(archive)
    kept = load(opened, *parse_entry(inspection))
    if as_json:
        lists.print_object(kept_data(opened, kept))
        return
    chosen = units_of(opened, units)
    if spring:
        inspected = kept.inspection
        spring_position(spring, inspected.places, len(inspected.row.springs))
    for line in _head(opened, kept):
        typer.echo(lists.one_line(line))
    screen = console()
    if spring:
        screen.print(*spring_lines(kept.inspection, spring, chosen), sep="\n")
    else:
        shown = choose_springs(kept.inspection, choose) if choose else kept.inspection
        screen.print(render(shown, chosen, budget=budget))


def kept_data(archive: "Archive", kept: "Kept") -> dict[str, Any]:
    """Give everything of a version as plain data: entry, versions, pictures, result."""
    from vision.cli.lists import entry_object  # noqa: PLC0415
    from vision.output.tree import to_data  # noqa: PLC0415

    return {
        "entry": entry_object(kept.entry),
        "versions": [entry_object(one) for one in _versions(archive, kept)],
        "pictures": [
            {
                "role": one.role.key,
                "name": one.name,
                "sha256": one.sha256,
                "size_bytes": one.size_bytes,
            }
            for one in kept.pictures
        ],
        "result": to_data(kept.inspection, influences=True),
    }


def _versions(archive: "Archive", kept: "Kept") -> "list[Entry]":
    from vision.archive.search import Wanted, list_entries  # noqa: PLC0415

    wanted = Wanted(number=kept.entry.handle.number, superseded=True)
    return list(list_entries(archive, wanted))


def _head(archive: "Archive", kept: "Kept") -> "Iterator[str]":
    """Say what it is, how it came to this version, and from which pictures."""
    entry = kept.entry
    yield f"Inspection {entry.handle.text}: {entry.job}, {entry.engine}"
    specification = kept.inspection.specification
    against = specification.name if specification else "no specification"
    yield f"of {entry.started_on}, judged against {against}"
    for one in reversed(_versions(archive, kept)):
        mark = ">" if one.handle == entry.handle else " "
        note = f": {one.note}" if one.note else ""
        day = one.added_at.astimezone().strftime("%Y-%m-%d %H:%M")
        yield f" {mark} {one.handle.text}  {day}  {one.change.text}{note}"
    for picture in kept.pictures:
        size = f"{picture.size_bytes / 1e6:.2f} MB"
        digest = picture.sha256[:12]
        yield f"   {picture.role.text}: {picture.name}, {size}, SHA-256 {digest}..."
