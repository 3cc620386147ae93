"""``freestand findings``: enter what looking at a kept spring found."""

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

Spring = Annotated[
    str, typer.Argument(help="A place like 2E, a position like 3, or all.")
]
Found = Annotated[
    str,
    typer.Argument(
        metavar="FINDINGS",
        help="none, break, crack, heat, pitting, end-wear, coil-clash; by commas.",
    ),
]
Note = Annotated[str, typer.Option(help="Where and how, in your own words.")]
ALL = "all"


@app.command()
def findings(
    inspection: EntryArgument,
    spring: Spring,
    found: Found,
    archive: ArchiveOption = None,
    *,
    note: Note = "",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Enter what the eye found on a spring; it takes the place of an earlier entry.

    The verdicts are made again. The old version is kept. "all" means every spring of
    the row that nothing was entered for yet.

    Example: freestand findings 7 2E crack --note "third coil"
    """
    from vision.cli import keeping  # noqa: PLC0415
    from vision.inspection.findings import parse_findings  # noqa: PLC0415
    from vision.records.kept import Change  # noqa: PLC0415

    seen = parse_findings(found, note)

    def revise(kept: "Kept") -> "Revision":
        before = kept.inspection
        fresh = dict.fromkeys(_positions(kept, spring), seen)
        return keeping.Revision(
            change=Change.FINDINGS,
            note=f"{spring} {found}",
            entries=replace(
                keeping.entries_of(before), findings={**before.findings, **fresh}
            ),
            specification=before.specification,
        )

    handle, result = keeping.correct(
        open_named(archive), parse_entry(inspection), revise
    )
    keeping.tell_kept(handle, result, as_json=as_json, quiet=quiet)
    raise typer.Exit(keeping.exit_code(result))


def _positions(kept: "Kept", word: str) -> list[int]:
    """Find the springs that are meant."""
    from vision.cli.adding import spring_position  # noqa: PLC0415

    before = kept.inspection
    springs = [spring.position for spring in before.row.springs]
    if word.strip().lower() != ALL:
        return [spring_position(word, before.places, len(springs))]
    return [
        at
        for at in springs
        if at not in before.findings or not before.findings[at].found
    ]
