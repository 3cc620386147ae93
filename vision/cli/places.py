"""``freestand places``: correct where the springs of a kept row belong."""

from dataclasses import replace
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
    from vision.cli.keeping import Revision
    from vision.records.kept import Kept

app = typer.Typer()

Word = Annotated[
    str, typer.Argument(metavar="PLACES", help="Left to right, like 1-4IE or 1I,2I.")
]


@app.command()
def places(
    inspection: EntryArgument,
    word: Word,
    archive: ArchiveOption = None,
    *,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Give the springs of a kept inspection other places.

    What was measured, found and read stays with each spring; the verdicts are made
    again. The old version is kept.

    Example: freestand places 7 1I,1E,2I,2E
    """
    from vision.cli import keeping  # noqa: PLC0415
    from vision.inspection.places import place_springs  # noqa: PLC0415
    from vision.records.kept import Change  # noqa: PLC0415

    def revise(kept: "Kept") -> "Revision":
        before = kept.inspection
        placed = place_springs(word, len(before.row.springs))
        return keeping.Revision(
            change=Change.PLACES,
            note=word,
            entries=replace(keeping.entries_of(before), places=placed),
            specification=before.specification,
        )

    handle, result = keeping.correct(
        open_named(archive), parse_entry(inspection), revise
    )
    keeping.tell_kept(handle, result, as_json=as_json, quiet=quiet)
    raise typer.Exit(keeping.exit_code(result))
