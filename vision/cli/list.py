"""``freestand list``: the inspections that the archive keeps."""

import typer

from vision.cli.archives import (
    AllOption,
    ArchiveOption,
    DateOption,
    EngineOption,
    JobOption,
    JsonOption,
    LimitOption,
    PlaceOption,
    VerdictOption,
    VersionsOption,
    open_named,
    wanted_of,
)

app = typer.Typer()


@app.command("list")
def list_inspections(
    archive: ArchiveOption = None,
    *,
    job: JobOption = "",
    engine: EngineOption = "",
    date: DateOption = "",
    place: PlaceOption = "",
    verdict: VerdictOption = "",
    limit: LimitOption = 40,
    everything: AllOption = False,
    versions: VersionsOption = False,
    as_json: JsonOption = False,
) -> None:
    """List inspections, the newest job first.

    Example: freestand list --engine "Brook 1600" --date 2026
    """
    from vision.archive.search import list_entries  # noqa: PLC0415
    from vision.cli import lists, pages  # noqa: PLC0415

    kept = open_named(archive)
    wanted = wanted_of(
        job=job,
        engine=engine,
        date=date,
        place=place,
        verdict=verdict,
        versions=versions,
    )
    most = None if everything or as_json else limit + 1
    entries = list_entries(kept, wanted, limit=most)
    if as_json:
        lists.print_stream({}, "inspections", map(lists.entry_object, entries))
        return
    shown = entries if everything else lists.first(entries, limit)
    rows = (
        (
            entry.handle.text,
            entry.started_on.isoformat(),
            entry.job,
            entry.engine,
            lists.tally_text(entry.tally),
            "" if entry.previous is None else entry.change.key,
        )
        for entry in shown
    )
    count = pages.print_pages(_columns(), rows)
    lists.print_end(count, "inspection", more=next(entries, None) is not None)


def _columns() -> dict[str, str]:
    from vision.cli import pages  # noqa: PLC0415

    return {
        "No.": pages.FIXED,
        "day": pages.FIXED,
        "job": pages.WRAPPED,
        "engine": pages.WRAPPED,
        "springs": pages.FIXED,
        "change": pages.FIXED,
    }
