"""``freestand judge``: judge a kept inspection again, by another specification."""

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
    from vision.cli.keeping import Revision
    from vision.records.kept import Kept

app = typer.Typer()

SpecFile = Annotated[Path, typer.Option(help="The specification to judge by.")]


@app.command()
def judge(
    inspection: EntryArgument,
    archive: ArchiveOption = None,
    *,
    spec: SpecFile,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Judge what was measured, found and read once more; the old version is kept.

    Example: freestand judge 7 --spec spec.toml
    """
    from vision.cli import keeping  # noqa: PLC0415
    from vision.inspection.spec import load_specification  # noqa: PLC0415
    from vision.records.kept import Change  # noqa: PLC0415

    specification = load_specification(spec)

    def revise(kept: "Kept") -> "Revision":
        return keeping.Revision(
            change=Change.JUDGED,
            note=f"by {specification.name}",
            entries=keeping.entries_of(kept.inspection),
            specification=specification,
        )

    handle, result = keeping.correct(
        open_named(archive), parse_entry(inspection), revise
    )
    keeping.tell_kept(handle, result, as_json=as_json, quiet=quiet)
    raise typer.Exit(keeping.exit_code(result))
